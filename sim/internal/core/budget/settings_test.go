package budget_test

import (
	"testing"

	"ridethrough/sim/internal/core/budget"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

const clocked = `
title = "by the clock"
run_for = "1h"
[battery]
block = "agm-12v-9ah"
series = 6
[[group]]
name = "early"
off_delay = "200s"
[[group]]
name = "late"
[[host]]
name = "web"
group = "early"
draw_w = 300
stop_takes = "75s"
needs = ["storage"]
[[host]]
name = "storage"
group = "late"
draw_w = 300
stop_takes = "80s"
[policy]
on_battery_for = "60s"
off_when = "at-once"
off_delay = "300s"
min_charge_pct = 10
`

// TestCountdowns: the countdown and a group's delay that are needed let everybody stop,
// a second less does not. By hand: both are ordered with the stops, web has stopped
// after 75 s, storage 80 s later, and at the same instant the outlet would be first.
func TestCountdowns(t *testing.T) {
	p := load(t, clocked)
	b := bare(p)
	for name, row := range map[string]struct {
		kind budget.Kind
		want int64
		set  func(*plan.Plan, vtime.Tick)
	}{
		"output": {budget.OffDelay, 156, func(p *plan.Plan, d vtime.Tick) { p.Policy.OffDelay = d }},
		"group": {budget.GroupDelay, 76, func(p *plan.Plan, d vtime.Tick) {
			p.Card.Settings = *p.Card.Settings.Clone()
			for i := range p.Card.Settings.Groups {
				if p.Card.Settings.Groups[i].Name == "early" {
					p.Card.Settings.Groups[i].OffDelay = d
				}
			}
		}},
	} {
		s := setting(b, row.kind)
		if s.Needed != row.want || !s.OK {
			t.Errorf("%s: %+v, want %d", name, s, row.want)
		}
		at := func(d int64) bool {
			return inAll(t, p, ms, func(p *plan.Plan) { row.set(p, vtime.Tick(d)*sec) })
		}
		if !at(s.Needed) || at(s.Needed-1) {
			t.Errorf("%s: %d s: %v, a second less: %v", name, s.Needed, at(s.Needed), at(s.Needed-1))
		}
	}
}

// TestChargeForRestart: a battery at rest with the charge that is needed carries the
// chain, one percent less does not: with all at work, and with all at their start.
func TestChargeForRestart(t *testing.T) {
	p := load(t, clocked)
	b := bare(p)
	work, booting := setting(b, budget.MinCharge), setting(b, budget.MinBooting)
	if work.AsSet != 10 || work.OK || booting.Needed <= work.Needed {
		t.Errorf("%+v, %+v", work, booting)
	}
	at := func(pct int64) bool {
		q := *p
		q.Battery.ChargePct = float64(pct)
		return inAll(t, &q, ms, nil)
	}
	if !at(work.Needed) || at(work.Needed-1) {
		t.Errorf("%d %%: %v, one less: %v", work.Needed, at(work.Needed), at(work.Needed-1))
	}
	if !booted(t, p, booting.Needed) || booted(t, p, booting.Needed-1) {
		t.Errorf("booting %d %%: %v, one less: %v", booting.Needed, booted(t, p, booting.Needed), booted(t, p, booting.Needed-1))
	}
}

// booted is whether every host is clean if the output comes on at that charge and the
// mains are lost in the next millisecond, in all conditions.
func booted(t T, p *plan.Plan, pct int64) bool {
	off, on := plan.Action{Kind: plan.ActOutput}, plan.Action{Kind: plan.ActOutput, On: true}
	for _, c := range budget.Conditions(p) {
		change := func(q *plan.Plan) {
			loss := q.Entries[1]
			q.Battery.ChargePct = float64(pct)
			q.Entries = []plan.Entry{
				{At: loss.At - 2*sec, Actions: []plan.Action{off, {Kind: plan.ActCharger}}},
				{At: loss.At - ms, Actions: []plan.Action{{Kind: plan.ActCharge, Value: float64(pct)}, on}},
				loss,
			}
		}
		if !playedFrom(t, p, &c, ms, change, 1) {
			return false
		}
	}
	return true
}

// TestWorstIsTold: the worst condition is the old battery in the cold, a host that
// hangs and one that needs what is not protected are trouble, and a spread that is
// asked for makes the settings stricter, the more the higher the probability.
func TestWorstIsTold(t *testing.T) {
	t.Parallel()
	p := load(t, rack)
	b := bare(p)
	if w := &b.Conditions[b.Worst]; !w.EndOfLife || w.TempC != 12 || len(b.Troubles) != 0 || !b.Holds {
		t.Errorf("%+v", w)
	}
	last := setting(b, budget.OnBatteryFor).Needed
	for _, share := range []float64{0.5, 0.9, 1} {
		o := options(0)
		o.Draws, o.Share = budget.Draws(p, 0, 80, 50), share
		b := budget.Of(p, o)
		n := setting(b, budget.OnBatteryFor).Needed
		if n >= last || n < 1 {
			t.Errorf("with probability %g: %d s, less certain %d s", share, n, last)
		}
		last = n
		if b.Held < share {
			t.Errorf("held %g", b.Held)
		}
	}
	p.Hosts[0].Hangs = true
	if b := bare(p); b.Holds || len(b.Troubles) != 1 {
		t.Errorf("%q", b.Troubles)
	}
}

// TestDrawsAreSpread: between the plan and the spread, a third of it more on average
// (triangular distribution), the same for a host whoever else is there.
func TestDrawsAreSpread(t *testing.T) {
	p := load(t, rack)
	draws := budget.Draws(p, 0, 60, 20000)
	sum := 0.0
	for _, d := range draws {
		if d.Stops[0] < 140*sec || d.Stops[0] > 140*sec*8/5 {
			t.Fatalf("drew %s", d.Stops[0])
		}
		sum += d.Stops[0].Seconds()
	}
	if mean := sum / 20000; mean < 167.5 || mean > 168.5 { // 140 s and 20 %: 168 s
		t.Errorf("mean %g", mean)
	}
	q := *p
	q.Hosts = q.Hosts[:1]
	if alone := budget.Draws(&q, 0, 60, 3); alone[2].Stops[0] != draws[2].Stops[0] {
		t.Error("another host changes the draws of this one")
	}
}
