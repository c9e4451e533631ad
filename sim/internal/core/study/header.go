package study

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/scenario"
)

// Format is the number of the form of a file of runs.
const Format = 1

// Header is what runs belong to. Runs of equal headers, but for the shard, are runs of
// one study.
type Header struct {
	Format   int       `json:"ridethrough_study_runs"`
	Program  string    `json:"program"` // version of what played them
	Scenario string    `json:"scenario"`
	Title    string    `json:"title"`
	Digest   string    `json:"sha256"` // of the scenario file
	Seed     uint64    `json:"seed"`
	Runs     int       `json:"runs"` // of the whole study
	Shard    Shard     `json:"shard"`
	Versions []Version `json:"versions"`
}

// Version is one version of the scenario.
type Version struct {
	Variant    string     `json:"variant"`
	Claims     []Claim    `json:"expectations"`
	Hosts      []string   `json:"hosts"`
	Quantities []Quantity `json:"quantities"`
}

// Claim is an expectation.
type Claim struct {
	Name string `json:"name"`
	Form string `json:"claim"`
}

// Quantity is what varies.
type Quantity struct {
	Path    string   `json:"path"`
	Text    string   `json:"distribution"`
	Seconds bool     `json:"seconds,omitempty"`
	Labels  []string `json:"labels,omitempty"`
	Fixed   bool     `json:"fixed,omitempty"` // by the variant
}

// NewHeader is that of a study of s by that version of the program, called scenario.
// The error is a *scenario.Problem or a *RunError: of the first run of the study,
// if its values do not go together.
func NewHeader(s *Source, called, program string, runs int, shard Shard) (*Header, error) {
	sum := sha256.Sum256(s.Text)
	h := &Header{Format: Format, Program: program, Scenario: report.OneLine(called), Digest: hex.EncodeToString(sum[:]), Seed: s.Seed, Runs: runs, Shard: shard}
	p, err := NewPlayer(s)
	if err != nil {
		return nil, err
	}
	for i, name := range s.Variants {
		made, _, err := p.Plan(i, 1)
		if err != nil {
			return nil, err
		}
		h.Title = made.Title
		v := Version{Variant: name, Claims: []Claim{}, Hosts: []string{}, Quantities: quantities(p.molds[i].Quantities())}
		for k := range made.Expects {
			v.Claims = append(v.Claims, Claim{made.Expects[k].Name, report.OneLine(expect.Form(&made.Expects[k]))})
		}
		for k := range made.Hosts {
			v.Hosts = append(v.Hosts, made.Hosts[k].Name)
		}
		h.Versions = append(h.Versions, v)
	}
	return h, nil
}

func quantities(list []scenario.Quantity) []Quantity {
	out := make([]Quantity, len(list))
	for i := range list {
		q := &list[i]
		out[i] = Quantity{q.Path, q.Text, q.Seconds, q.Labels, q.Fixed}
	}
	return out
}

// First and Last are the numbers of the runs of the shard; with few runs it may have
// none, so that Last is less than First.
func (h *Header) First() int { return 1 + h.Runs*(h.Shard.Part-1)/h.Shard.Of }

// Last is the number of the last run of the shard.
func (h *Header) Last() int { return h.Runs * h.Shard.Part / h.Shard.Of }

// Shard is a part of a study, from 1, of so many.
type Shard struct {
	Part int `json:"part"`
	Of   int `json:"of"`
}

// String is the shard as a flag has it.
func (s Shard) String() string { return fmt.Sprintf("%d/%d", s.Part, s.Of) }

// fits says whether a run may be one of the study.
func (h *Header) fits(r *Run) bool {
	if len(r.Versions) != len(h.Versions) {
		return false
	}
	for i := range r.Versions {
		o, v := &r.Versions[i], &h.Versions[i]
		if len(o.Draws) != len(v.Quantities) || len(o.Claims) != len(v.Claims) || len(o.Hosts) != len(v.Hosts) {
			return false
		}
		for k, d := range o.Draws {
			if n := len(v.Quantities[k].Labels); n > 0 && !(d >= 0 && d < float64(n)) {
				return false
			}
		}
		for _, w := range o.Why {
			if report.OneLine(w.Text) != w.Text || w.Claim < 0 || w.Claim > len(v.Claims) || w.Host < 0 || w.Host > len(v.Hosts) || (w.Claim == 0) == (w.Host == 0) {
				return false
			}
		}
	}
	return true
}

// texts is every text of h that a person may see.
func (h *Header) texts() []string {
	all := []string{h.Program, h.Scenario, h.Title, h.Digest}
	for i := range h.Versions {
		v := &h.Versions[i]
		all = append(append(all, v.Variant), v.Hosts...)
		for _, c := range v.Claims {
			all = append(all, c.Name, c.Form)
		}
		for _, q := range v.Quantities {
			all = append(append(all, q.Path, q.Text), q.Labels...)
		}
	}
	return all
}

// forged says whether a text could pass for more than one line.
func (h *Header) forged() bool {
	return slices.ContainsFunc(h.texts(), func(s string) bool { return report.OneLine(s) != s })
}
