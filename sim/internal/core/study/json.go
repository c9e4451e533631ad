package study

import (
	"encoding/json"
	"io"

	"ridethrough/sim/internal/core/report"
)

// JSONVersion is the number of the form that docs/json.md describes.
const JSONVersion = 1

type jsonStudy struct {
	Version     int              `json:"ridethrough_study"`
	Scenario    string           `json:"scenario"`
	Title       string           `json:"title"`
	Digest      string           `json:"sha256"`
	Seed        uint64           `json:"seed"`
	Runs        int              `json:"runs"`
	Played      int              `json:"played"`
	Interrupted bool             `json:"interrupted"`
	Require     json.Number      `json:"require"`
	Confident   bool             `json:"confident"`
	Holds       bool             `json:"holds"`
	Versions    []jsonVersion    `json:"versions"`
	Comparisons []jsonComparison `json:"comparisons"`
}

type jsonVersion struct {
	Variant      string       `json:"variant"`
	Met          int          `json:"met"`
	Success      jsonShare    `json:"success"`
	Expectations []jsonClaim  `json:"expectations"`
	Hosts        []jsonHost   `json:"hosts"`
	Margin       *jsonSpread  `json:"margin_s,omitempty"`
	Charge       *jsonSpread  `json:"charge_left_pct,omitempty"`
	Sensitivity  []jsonEffect `json:"sensitivity"`
	FirstFailed  *jsonFailed  `json:"first_failed,omitempty"`
}

type jsonShare struct {
	Share json.Number `json:"share"`
	Low   json.Number `json:"low"`
	High  json.Number `json:"high"`
}

type jsonClaim struct {
	Name       string      `json:"name"`
	Claim      string      `json:"claim"`
	Met        int         `json:"met"`
	Missed     int         `json:"missed"`
	NotReached int         `json:"not_reached"`
	Share      jsonShare   `json:"met_share"`
	Why        []jsonClass `json:"why"`
}

type jsonHost struct {
	Name  string      `json:"name"`
	Cut   int         `json:"cut"`
	Away  int         `json:"away_at_end"`
	Share jsonShare   `json:"cut_share"`
	Why   []jsonClass `json:"why"`
}

type jsonClass struct {
	Text  string `json:"reason"`
	Count int    `json:"runs"`
	First int    `json:"first_run"`
}

type jsonSpread struct {
	Count  int         `json:"runs"`
	Mean   json.Number `json:"mean"`
	SD     json.Number `json:"sd"`
	Min    json.Number `json:"min"`
	P1     json.Number `json:"p1"`
	P5     json.Number `json:"p5"`
	Median json.Number `json:"median"`
	P95    json.Number `json:"p95"`
	Max    json.Number `json:"max"`
}

type jsonEffect struct {
	Path         string       `json:"path"`
	Distribution string       `json:"distribution"`
	Fixed        bool         `json:"fixed"`
	Share        json.Number  `json:"share_of_variance"`
	Rank         *json.Number `json:"rank_correlation,omitempty"`
	PerUnit      *json.Number `json:"margin_s_per_unit,omitempty"`
}

type jsonFailed struct {
	Run     int    `json:"run"`
	RunSeed uint64 `json:"run_seed"`
	Replay  string `json:"replay"`
}

type jsonComparison struct {
	Variant    string      `json:"variant"`
	Both       int         `json:"both_met"`
	OnlyFirst  int         `json:"only_first_met"`
	OnlyThis   int         `json:"only_this_met"`
	Neither    int         `json:"neither_met"`
	Difference jsonShare   `json:"success_difference"`
	Pairs      int         `json:"margin_pairs"`
	Margin     json.Number `json:"margin_s_difference"`
	Low        json.Number `json:"margin_s_low"`
	High       json.Number `json:"margin_s_high"`
}

// Asked is what a study has to come to.
type Asked struct {
	Share float64 // of runs that meet everything, 0 to 1
	Sure  bool    // of the lower end of the interval
	// Replay is the command that plays a run of a variant alone.
	Replay func(variant string, run int) string
}

// JSON writes the study as docs/json.md describes it.
func (r *Result) JSON(w io.Writer, a Asked) error {
	h := r.Header
	return report.WriteJSON(w, jsonStudy{
		Version: JSONVersion, Scenario: h.Scenario, Title: h.Title, Digest: h.Digest, Seed: h.Seed, Runs: h.Runs,
		Played: r.Played, Interrupted: r.Played < h.Runs,
		Require: decimals(a.Share, 6), Confident: a.Sure, Holds: r.Holds(a.Share, a.Sure),
		Versions:    report.Each(r.Versions, func(v *VersionResult) jsonVersion { return r.versionJSON(v, a) }),
		Comparisons: report.Each(r.Comparisons, comparisonJSON),
	})
}

func (r *Result) versionJSON(v *VersionResult, a Asked) jsonVersion {
	j := jsonVersion{
		Variant: v.Variant, Met: v.Met, Success: shareJSON(v.Success),
		Expectations: report.Each(v.Claims, claimJSON), Hosts: report.Each(v.Hosts, hostJSON),
		Margin: spreadJSON(&v.Seconds), Charge: spreadJSON(&v.Charge), Sensitivity: report.Each(v.Effects, effectJSON),
	}
	if v.First > 0 {
		j.FirstFailed = &jsonFailed{v.First, r.RunSeed(v.First), a.Replay(v.Variant, v.First)}
	}
	return j
}

func shareJSON(p Proportion) jsonShare {
	return jsonShare{decimals(p.Share, 6), decimals(p.Low, 6), decimals(p.High, 6)}
}

func claimJSON(c *ClaimResult) jsonClaim {
	return jsonClaim{c.Name, c.Form, c.Met, c.Missed, c.NotReached, shareJSON(c.Share), report.Each(c.Why, classJSON)}
}

func hostJSON(h *HostResult) jsonHost {
	return jsonHost{h.Name, h.Cut, h.Away, shareJSON(h.Share), report.Each(h.Why, classJSON)}
}

func classJSON(c *Class) jsonClass { return jsonClass{c.Text, c.Count, c.First} }

func spreadJSON(s *Spread) *jsonSpread {
	if s.Count == 0 {
		return nil
	}
	n := func(x float64) json.Number { return decimals(x, 3) }
	return &jsonSpread{s.Count, n(s.Mean), n(s.SD), n(s.Min), n(s.P1), n(s.P5), n(s.Median), n(s.P95), n(s.Most)}
}

func effectJSON(e *Effect) jsonEffect {
	j := jsonEffect{Path: e.Path, Distribution: e.Text, Fixed: e.Fixed, Share: decimals(e.Share, 4)}
	if e.Varies && e.Labels == nil {
		rank, slope := decimals(e.Rank, 4), decimals(e.PerUnit, 4)
		j.Rank, j.PerUnit = &rank, &slope
	}
	return j
}

func comparisonJSON(c *Comparison) jsonComparison {
	return jsonComparison{
		c.Variant, c.Both, c.OnlyFirst, c.OnlyThis, c.Neither, shareJSON(c.Difference),
		c.Pairs, decimals(c.Margin, 3), decimals(c.MarginLow, 3), decimals(c.MarginHigh, 3),
	}
}
