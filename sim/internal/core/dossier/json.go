package dossier

import (
	"io"

	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/vtime"
)

// JSONVersion is the number of the format that docs/json.md describes.
const JSONVersion = 1

type jsonReport struct {
	Version    int                 `json:"ridethrough_report"`
	Program    string              `json:"program"`
	Digest     string              `json:"scenario_sha256"`
	Result     any                 `json:"result"`
	Study      string              `json:"study"`
	Drawn      []jsonFact          `json:"drawn"`
	Site       []jsonFact          `json:"site"`
	Groups     []map[string]string `json:"groups"`
	Hosts      []map[string]string `json:"hosts"`
	Manager    []jsonFact          `json:"manager"`
	Settings   []jsonFact          `json:"settings"`
	Stops      []jsonCycle         `json:"stops"`
	Budget     *jsonBudget         `json:"budget"`
	Tests      []jsonTest          `json:"tests"`
	Observed   []jsonFact          `json:"observed"`
	Deviations []string            `json:"deviations"`
	NotProven  []string            `json:"not_proven"`
}

type jsonFact struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

type jsonCycle struct {
	Host      string      `json:"host"`
	OrderedMS *vtime.Tick `json:"ordered_ms"`
	StoppedMS *vtime.Tick `json:"stopped_ms"`
	CutMS     *vtime.Tick `json:"cut_ms"`
	BootedMS  *vtime.Tick `json:"booted_ms"`
	RunningMS *vtime.Tick `json:"running_ms"`
	How       string      `json:"how"`
}

type jsonBudget struct {
	Holds      bool                `json:"holds"`
	Troubles   []string            `json:"troubles"`
	Conditions []map[string]string `json:"conditions"`
	Hosts      []map[string]string `json:"hosts"`
}

type jsonTest struct {
	Name string      `json:"name"`
	AtMS *vtime.Tick `json:"at_ms"`
}

// JSON writes the report as docs/json.md describes it.
func (d *Dossier) JSON(w io.Writer) error {
	out := jsonReport{
		Version: JSONVersion, Program: d.Program, Digest: d.Digest, Result: d.Result.Document(),
		Study: d.Study, Drawn: named(d.Drawn),
		Site: named(d.Facts), Groups: d.Groups.objects(), Hosts: d.Hosts.objects(), Manager: named(d.Manager),
		Settings: named(d.SetAll), Observed: named(d.Seen), Deviations: append([]string{}, d.Deviations...), NotProven: notProven,
		Stops: []jsonCycle{}, Tests: []jsonTest{},
	}
	for i := range d.Cycles {
		c := &d.Cycles[i]
		out.Stops = append(out.Stops, jsonCycle{c.Host, when(c.Ordered), when(c.Stopped), when(c.Cut), when(c.Booted), when(c.Running), c.How()})
	}
	for _, t := range d.Tests {
		out.Tests = append(out.Tests, jsonTest{t.Name, when(t.At)})
	}
	if b := d.Budget; b != nil {
		out.Budget = &jsonBudget{b.Holds, append([]string{}, b.Troubles...), b.Conditions.objects(), b.Hosts.objects()}
	}
	return report.WriteJSON(w, out)
}

// when is nil for what did not happen.
func when(t vtime.Tick) *vtime.Tick {
	if t == vtime.Never {
		return nil
	}
	return &t
}

func named(list []Fact) []jsonFact {
	out := make([]jsonFact, len(list))
	for i, f := range list {
		out[i] = jsonFact(f)
	}
	return out
}

// objects are the rows by the names of their columns.
func (t *Table) objects() []map[string]string {
	out := make([]map[string]string, len(t.Rows))
	for i, row := range t.Rows {
		out[i] = map[string]string{}
		for k, cell := range row {
			out[i][t.Head[k]] = cell
		}
	}
	return out
}
