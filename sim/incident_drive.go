package sim

import (
	"fmt"
	"math"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// driven is s with its timeline replaced by what list tells of the supply, the load
// and, at the start, the battery. It fails for what cannot drive anything.
func (s *Scenario) driven(list []readout, end vtime.Tick) (*Scenario, error) {
	p := *s.plan
	d := driver{plan: &p, list: list}
	if err := d.check(); err != nil {
		return nil, err
	}
	p.RunFor = max(end, list[len(list)-1].at, vtime.Second)
	first := &list[0]
	if !math.IsNaN(first.temp) && p.Room == nil {
		p.Battery.AmbientC = first.temp
	}
	if !math.IsNaN(first.charge) {
		d.add(0, plan.Action{Kind: plan.ActCharge, Value: first.charge})
	}
	for i := range list {
		d.supply(i)
		d.load(i)
	}
	p.Entries = d.entries
	return &Scenario{name: s.name, text: s.text, variant: s.variant, plan: &p}, nil
}

// driver makes a timeline of readouts.
type driver struct {
	plan    *plan.Plan
	list    []readout
	entries []plan.Entry

	volts [3]float64 // what the supply was last set to
	hz    float64
	watts float64
}

func (d *driver) check() error {
	told := func(of func(*readout) bool) bool {
		for i := range d.list {
			if of(&d.list[i]) {
				return true
			}
		}
		return false
	}
	if !told(func(r *readout) bool { return r.lines > 0 || r.source != 0 }) {
		return fmt.Errorf("neither upsInputVoltage nor upsOutputSource is in it: nothing tells what the supply did")
	}
	for _, h := range d.plan.Hosts {
		if h.DrawW > 0 {
			return nil
		}
	}
	return fmt.Errorf("the scenario has no host that draws anything: there must be one to carry the recorded load")
}

func (d *driver) add(at vtime.Tick, actions ...plan.Action) {
	if n := len(d.entries); n > 0 && d.entries[n-1].At == at {
		d.entries[n-1].Actions = append(d.entries[n-1].Actions, actions...)
		return
	}
	if n := len(d.entries); n > 0 {
		at = max(at, d.entries[n-1].At)
	}
	d.entries = append(d.entries, plan.Entry{At: at, Actions: actions})
}

// when is the instant at which what readout i tells began: between it and the one
// before, and where the card counts the seconds on battery, when that began.
func (d *driver) when(i int) vtime.Tick {
	if i == 0 {
		return 0
	}
	r, before := &d.list[i], &d.list[i-1]
	if r.source == snap.SourceBattery && before.source != snap.SourceBattery && r.onBattery >= 0 {
		began := r.at - vtime.Tick(1000*r.onBattery) - vtime.Second/2
		return min(max(began, before.at+1), r.at)
	}
	return before.at + (r.at-before.at)/2
}

// supply is the voltage and frequency of readout i, if they differ from before.
func (d *driver) supply(i int) {
	volts, hz := d.fed(&d.list[i])
	lines := 1
	if d.list[i].lines > 1 && d.plan.UPS.LinesIn > 1 {
		lines = d.list[i].lines
	}
	var actions []plan.Action
	for line := range lines {
		if i > 0 && math.Abs(volts[line]-d.volts[line]) < 0.5 && math.Abs(hz-d.hz) < 0.05 {
			continue
		}
		c := plan.Change{Volts: volts[line], Hz: hz}
		if lines > 1 {
			c.Line = line + 1
		}
		actions = append(actions, plan.Action{Kind: plan.ActSource, Change: c})
		d.volts[line] = volts[line]
	}
	d.hz = hz
	if len(actions) > 0 {
		d.add(d.when(i), actions...)
	}
}

// fed is the supply that a readout tells of. A card that does not tell it is taken to
// be on battery because there is none, and otherwise to have the nominal one.
func (d *driver) fed(r *readout) (volts [3]float64, hz float64) {
	source := &d.plan.Source
	volts, hz = r.supply, r.hz
	if r.lines == 0 {
		for i := range volts {
			volts[i] = source.Volts
			if r.source == snap.SourceBattery || r.source == snap.SourceNone {
				volts[i] = 0
			}
		}
	}
	switch {
	case volts[0] <= 0 && volts[1] <= 0 && volts[2] <= 0:
		hz = 0
	case !(hz > 0):
		hz = source.Hz
	}
	return volts, hz
}

// load shares the load of readout i among the hosts as their nominal draws do.
func (d *driver) load(i int) {
	r := &d.list[i]
	if math.IsNaN(r.loadW) || r.source == snap.SourceNone || i > 0 && math.Abs(r.loadW-d.watts) < max(2, 0.005*d.watts) {
		return
	}
	sum := 0.0
	for _, h := range d.plan.Hosts {
		sum += h.DrawW
	}
	var actions []plan.Action
	for k, h := range d.plan.Hosts {
		draw := float64(r.loadW*h.DrawW) / sum
		actions = append(actions, plan.Action{Kind: plan.ActHost, Host: k, Draw: &draw})
	}
	d.watts = r.loadW
	at := vtime.Tick(0)
	if i > 0 {
		at = d.list[i-1].at + (r.at-d.list[i-1].at)/2
	}
	d.add(at, actions...)
}
