package budget_test

import (
	"fmt"
	"math"
	"testing"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/budget"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

// The worked example, by hand. 1200 W behind an inverter of 92 % are 1304.3 W at two
// strings of 36 cells: 18.116 W a cell. The watt table of the block (testdata/tables/
// xlt12-7_12v7ah.csv, which names its source), end voltage 1.75 V, has 19.3 W for 15
// minutes and 16.3 W for 20; between them, straight in the logarithms of both,
//
// (The library takes the 20 C of the table for its 25 C.)
//
//	15 min x (19.3/18.116)^n, n = ln(20/15)/ln(19.3/16.3) = 1.703: 16.70 min = 1002 s
//
// Nobody draws less when stopped, so that this is the battery's end. The chain: a poll
// sees the outage after 10 s, 50 s on battery, hosts of 120, 180 and 60 s one after the
// other, 30 s to off:
//
//	60 + 360 + 30 = 450 s; to spare 1002 - 450 = 552 s; latest order 1002 - 390 = 612 s
const worked = `
title = "worked example"
run_for = "1h"
[ups]
rating_va = 3000
rating_w = 2700
[battery]
block = "agm-12v-7ah"
series = 6
strings = 2
cutoff_v_per_cell = 1.75
learned = true
[[host]]
name = "first"
draw_w = 400
idle_w = 400
stop_takes = "120s"
needs = ["second"]
[[host]]
name = "second"
draw_w = 400
idle_w = 400
stop_takes = "180s"
needs = ["third"]
[[host]]
name = "third"
draw_w = 400
idle_w = 400
stop_takes = "60s"
[policy]
poll_every = "10s"
on_battery_for = "50s"
off_delay = "30s"
`

func workedPlan(t *testing.T, order bool) *plan.Plan {
	p := load(t, worked)
	p.UPS.BatteryLoss = plan.LossCurve{NoLoad: (1200/0.92 - 1200) / p.UPS.RatingW}
	if !order {
		for i := range p.Hosts {
			p.Hosts[i].Needs = nil
		}
	}
	return p
}

func TestWorkedExample(t *testing.T) {
	const runtime = 15 * 60 * 1.1138 // s: (19.3/18.116)^1.703
	b := budget.Of(workedPlan(t, true), &budget.Options{Begin: vtime.Never, Margin: 30 * sec})
	now, old := &b.Conditions[0], &b.Conditions[1]
	if now.Decided != 60*sec || now.LastStop != 420*sec {
		t.Errorf("begins at %s, last stop at %s; by hand 60 s and 420 s", now.Decided, now.LastStop)
	}
	within := func(what string, got vtime.Tick, want float64) {
		const fit = 0.04 * runtime // the cell is a fit to the table, nine of ten rows within 4 % (core/blocks/blocks.csv)
		if math.Abs(got.Seconds()-want) > fit {
			t.Errorf("%s %s, by hand %.0f s", what, got, want)
		}
	}
	within("runtime", now.Runtime, runtime)
	within("latest order", now.Latest, runtime-390)
	within("to spare", now.Spare, runtime-450)
	// Of the battery's own runtime, which the estimate does not move, that is exact.
	if d := now.Runtime - now.Latest - 390*sec; d < -200*ms || d > 200*ms {
		t.Errorf("latest order %s, by hand 390 s before %s", now.Latest, now.Runtime)
	}
	// At 80 % of its capacity it has less than 80 % of its runtime.
	if old.Runtime.Seconds() > 0.8*now.Runtime.Seconds() || !b.Holds {
		t.Errorf("end of life: %s", old.Runtime)
	}
}

// TestWorkedLowBattery: a controller that knows its cells says low battery when it has
// so long left. In series there are 390 s to go and a poll of 10 s until anybody looks,
// 400 s: 300 s left are too late, and 7 minutes are the least. Together the longest
// stop counts: 180 + 30 + 10 = 220 s, 4 minutes.
func TestWorkedLowBattery(t *testing.T) {
	for order, want := range map[bool]struct {
		minutes, written int64
		five             bool
	}{true: {7, 10, false}, false: {4, 5, true}} {
		p := workedPlan(t, order)
		p.Policy.OnBatteryFor, p.Policy.OnLowBattery = 0, true
		b := budget.Of(p, &budget.Options{Begin: vtime.Never, Margin: 30 * sec})
		s := setting(b, budget.LowBattery)
		if s.Needed != want.minutes || s.Write != want.written || s.OK != want.five || b.Holds != want.five {
			t.Errorf("in series %v: %+v, holds %v", order, s, b.Holds)
		}
	}
}

// TestLowBatteryBeyondTheUnit: where hosts take longer than the largest low-battery time
// that can be written, no write does.
func TestLowBatteryBeyondTheUnit(t *testing.T) {
	p := workedPlan(t, true)
	p.Policy.OnBatteryFor, p.Policy.OnLowBattery, p.Policy.HostDeadline = 0, true, 3*vtime.Hour
	p.Battery.Strings = 20
	for i := range p.Hosts {
		p.Hosts[i].Stop = 70 * vtime.Minute
	}
	s := setting(budget.Of(p, &budget.Options{Begin: vtime.Never, Margin: 30 * sec}), budget.LowBattery)
	if s.Needed <= 60 || s.Write != -1 || s.OK {
		t.Errorf("%+v", s)
	}
}

// TestWorkedRows: the rows of testdata/checks.csv on the same chain. Their delay of 30 s
// until the output is off is the margin here, for a host that has stopped needs no output.
func TestWorkedRows(t *testing.T) {
	known := checks.Load(t)
	options := budget.Options{Begin: vtime.Never, Margin: 30 * sec}
	now := &budget.Of(workedPlan(t, true), &options).Conditions[0]
	known.Number(t, "SHD-01", (now.LastStop + options.Margin).Seconds())
	known.Within(t, "SHD-02", now.Spare.Seconds(), 0.04*1002) // the row's runtime is read from the block's table, see TestWorkedExample

	for id, inSeries := range map[string]bool{"SHD-05": true, "SHD-06": false} {
		p := workedPlan(t, inSeries)
		p.Policy.OnBatteryFor, p.Policy.OnLowBattery = 0, true
		p.Policy.Poll = 100 * ms // the rows have a manager that looks at once
		spare := budget.Of(p, &options).Conditions[0].Spare.Seconds()
		said := fmt.Sprintf("passes, %.0f s margin", spare)
		if spare < 0 {
			said = fmt.Sprintf("fails by %.0f s", -spare)
		}
		known.Word(t, id, said)
	}
}
