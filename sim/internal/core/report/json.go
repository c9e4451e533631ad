package report

import (
	"encoding/json"
	"io"
	"strconv"
	"time"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// JSONVersion is the number of the format that docs/json.md describes. New
// fields do not raise it; a field that goes or changes does.
const JSONVersion = 1

type jsonResult struct {
	Version       int            `json:"ridethrough_result"`
	Scenario      string         `json:"scenario"`
	Title         string         `json:"title"`
	Variant       string         `json:"variant,omitempty"`
	Seed          uint64         `json:"seed"`
	Start         string         `json:"start"`
	EndedMS       vtime.Tick     `json:"ended_ms"`
	Interrupted   bool           `json:"interrupted"`
	Met           bool           `json:"met"`
	Expectations  []jsonVerdict  `json:"expectations"`
	Hosts         []jsonHost     `json:"hosts"`
	Notifications map[string]int `json:"notifications"`
	Events        []jsonEvent    `json:"events"`
	EventsUnkept  int            `json:"events_unkept,omitempty"`
}

type jsonVerdict struct {
	Name    string     `json:"name"`
	Claim   string     `json:"claim"`
	Verdict string     `json:"verdict"`
	AtMS    vtime.Tick `json:"at_ms"`
	Because string     `json:"because"`
}

type jsonHost struct {
	Name   string `json:"name"`
	State  string `json:"state"`
	Ended  string `json:"ended,omitempty"`
	Starts int    `json:"starts"`
	Stops  int    `json:"stops"`
	Cuts   int    `json:"cuts"`
}

type jsonEvent struct {
	AtMS      vtime.Tick  `json:"at_ms"`
	Subject   string      `json:"subject"`
	Text      string      `json:"text"`
	FedBy     string      `json:"fed_by"`
	ChargePct json.Number `json:"charge_pct"`
}

// JSON writes the result as docs/json.md describes it.
func (r *Result) JSON(w io.Writer) error { return WriteJSON(w, r.json()) }

// Document is what [Result.JSON] writes, for a larger document to hold.
func (r *Result) Document() any { return r.json() }

func (r *Result) json() jsonResult {
	return jsonResult{
		Version: JSONVersion, Scenario: r.Scenario, Title: r.Title, Variant: r.Variant, Seed: r.Seed,
		Start: r.Start.Format(time.RFC3339), EndedMS: r.Ended, Interrupted: r.Interrupted, Met: r.Met(),
		Expectations:  Each(r.Verdicts, verdictJSON),
		Hosts:         Each(r.Hosts, hostJSON),
		Notifications: r.Sent.ByName(),
		Events:        Each(r.Events, eventJSON),
		EventsUnkept:  r.Unkept,
	}
}

func verdictJSON(v *expect.Verdict) jsonVerdict {
	return jsonVerdict{v.Name, v.Form, v.State.String(), v.At, v.Because}
}

func hostJSON(h *snap.Host) jsonHost {
	return jsonHost{h.Name, h.State.String(), h.Ended, h.Starts, h.Stops, h.Cuts}
}

func eventJSON(e *Event) jsonEvent {
	charge := strconv.FormatFloat(e.ChargePct, 'f', 2, 64)
	return jsonEvent{e.Tick, e.Subject, e.Text, e.Source.String(), json.Number(charge)}
}
