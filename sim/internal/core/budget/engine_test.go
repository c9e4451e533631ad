package budget_test

import (
	"fmt"
	"testing"

	"ridethrough/sim/internal/core/budget"
	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const (
	sec = vtime.Second
	ms  = vtime.Millisecond
)

// T is what a helper needs of a test, or of one of rapid.
type T interface {
	Helper()
	Fatalf(format string, args ...any)
}

func load(t T, src string) *plan.Plan {
	t.Helper()
	p, err := scenario.Load("test.toml", []byte(src), scenario.Options{})
	if err != nil {
		t.Fatalf("%v\n%s", err, src)
	}
	return p
}

// lost is the entry that takes the mains away.
func lost(t T) plan.Action {
	p := load(t, "title = \"x\"\nrun_for = \"1m\"\n[[host]]\nname = \"h\"\ndraw_w = 1\n[[at]]\ntime = \"1s\"\nsource = \"lost\"\n")
	return p.Entries[0].Actions[0]
}

// played is whether every host that the unit feeds stops cleanly when the engine plays
// p with a battery in that condition, and the mains are lost for good so long after a
// poll. It knows nothing of package budget but the condition.
func played(t T, p *plan.Plan, c *budget.Condition, after vtime.Tick, change func(*plan.Plan)) bool {
	t.Helper()
	return playedFrom(t, p, c, after, change, 0)
}

// playedFrom is played where hosts have been cut so often before the loss.
func playedFrom(t T, p *plan.Plan, c *budget.Condition, after vtime.Tick, change func(*plan.Plan), cuts int) bool {
	t.Helper()
	q := *p
	q.Battery = c.Battery
	q.Battery.ChargePct = p.Battery.ChargePct
	q.Room, q.Expects = nil, nil
	q.RunFor = 100 * vtime.Hour
	q.Hosts = append([]plan.Host(nil), p.Hosts...)
	if p.Policy != nil {
		policy := *p.Policy
		q.Policy = &policy
	}
	loss := 4*sec + after
	if q.Policy != nil {
		loss = q.Policy.Poll*((4*sec)/q.Policy.Poll+1) + after
	}
	q.Entries = []plan.Entry{{At: 0, Actions: []plan.Action{{Kind: plan.ActCharger}}}, {At: loss, Actions: []plan.Action{lost(t)}}}
	if change != nil {
		change(&q)
	}
	last := &q.Entries[len(q.Entries)-1] // the loss: by then the battery has lost a little by itself
	last.Actions = append([]plan.Action{{Kind: plan.ActCharge, Value: q.Battery.ChargePct}}, last.Actions...)
	e, frame, err := engine.New(&q, nil)
	if err != nil {
		t.Fatalf("%v", err)
	}
	for {
		switch waits, cut := standing(&q, frame.Site, cuts); {
		case cut:
			return false
		case !waits && frame.Tick > loss:
			return true
		case frame.Tick > 50*vtime.Hour:
			t.Fatalf("it never ends")
		}
		frame = e.Step(q.RunFor)
	}
}

// standing says whether a host has not stopped yet, and whether one was cut.
func standing(p *plan.Plan, s *snap.Site, cuts int) (waits, cut bool) {
	for i := range p.Hosts {
		fed := false
		for _, g := range p.Hosts[i].Groups {
			fed = fed || !p.Groups[g].FromMains
		}
		if fed {
			cut = cut || s.Hosts[i].Cuts > cuts
			waits = waits || s.Hosts[i].Stops == 0
		}
	}
	return waits, cut
}

// bare is a budget without safety: what it allows has to work, and no more than that.
func bare(p *plan.Plan) *budget.Budget {
	return budget.Of(p, options(0))
}

func options(stopPct float64) *budget.Options {
	return &budget.Options{Begin: vtime.Never, StopPct: stopPct}
}

func setting(b *budget.Budget, kind budget.Kind) budget.Setting {
	for _, s := range b.Settings {
		if s.Kind == kind {
			return s
		}
	}
	return budget.Setting{Needed: -2}
}

const rack = `
title = "rack"
run_for = "1h"
[battery]
block = "agm-12v-9ah"
series = 6
coldest_c = 12
hottest_c = 32
[[host]]
name = "db"
draw_w = 350
stop_takes = "140s"
needs = ["storage"]
[[host]]
name = "web"
draw_w = 250
stop_takes = "45s"
needs = ["db"]
[[host]]
name = "storage"
draw_w = 400
stop_takes = "61s"
[policy]
on_battery_for = "2m"
poll_every = "10s"
confirm = 2
`

// inAll is whether every host is clean in all conditions.
func inAll(t T, p *plan.Plan, after vtime.Tick, change func(*plan.Plan)) bool {
	for _, c := range budget.Conditions(p) {
		if !played(t, p, &c, after, change) {
			return false
		}
	}
	return true
}

// only has the policy go by one trigger.
func only(trigger func(*plan.Policy)) func(*plan.Plan) {
	return func(p *plan.Plan) {
		p.Policy.OnBatteryFor, p.Policy.RuntimeBelow, p.Policy.ChargeBelow, p.Policy.OnLowBattery = 0, 0, 0, false
		trigger(p.Policy)
	}
}

// onBattery has the policy act after so long on battery alone, lowBattery when the unit
// says low alone.
func onBattery(seconds int64) func(*plan.Plan) {
	return only(func(q *plan.Policy) { q.OnBatteryFor = vtime.Tick(seconds) * sec })
}

func lowBattery(minutes int64) func(*plan.Plan) {
	return func(p *plan.Plan) {
		only(func(q *plan.Policy) { q.OnLowBattery = true })(p)
		p.UPS.LowBatteryMinutes = int(minutes)
	}
}

// inPhases is whether every host is clean in all conditions and phases of the polls.
func inPhases(t T, p *plan.Plan, change func(*plan.Plan)) bool {
	poll := p.Policy.Poll
	for _, after := range []vtime.Tick{ms, poll / 2} {
		if !inAll(t, p, after, change) {
			return false
		}
	}
	return true
}

// TestTheRackAgainstTheEngine: what is needed works, and one step less does not.
func TestTheRackAgainstTheEngine(t *testing.T) {
	p := load(t, rack)
	b := bare(p)
	if !b.Holds || !inPhases(t, p, nil) {
		t.Errorf("as set: budget %v, engine %v", b.Holds, inPhases(t, p, nil))
	}
	for name, row := range map[string]struct {
		kind budget.Kind
		set  func(int64) func(*plan.Plan)
		step int64
	}{
		"time on battery": {budget.OnBatteryFor, onBattery, 1},
		"low battery":     {budget.LowBattery, lowBattery, -1},
	} {
		n := setting(b, row.kind).Needed
		if n < 2 {
			t.Fatalf("%s: %d", name, n)
		}
		if !inPhases(t, p, row.set(n)) {
			t.Errorf("%s: %d fails", name, n)
		}
		if inWorstPhase(t, p, row.set(n+row.step)) {
			t.Errorf("%s: %d does too, not only %d", name, n+row.step, n)
		}
	}
}

// begun has the policy give its first order so long after the loss, to the tick: it
// polls once, then. The card tells whole seconds on battery, so that at has to be one
// at least.
func begun(at vtime.Tick) func(*plan.Plan) {
	return func(p *plan.Plan) {
		only(func(q *plan.Policy) { q.OnBatteryFor, q.CardTimer, q.Confirm = ms, true, 1 })(p)
		p.Policy.Poll = p.Entries[1].At + at
	}
}

// onLatest says what is wrong with the latest moment of a condition, "" for nothing: to
// begin then has to be clean, a little later not, wherever in a second the mains are lost.
func onLatest(t T, p *plan.Plan, c *budget.Reckoning) string {
	t.Helper()
	if c.Latest == vtime.Never || c.Latest < sec || c.Latest > 20*vtime.Hour {
		return ""
	}
	for _, after := range []vtime.Tick{ms, 500 * ms} {
		if !played(t, p, &c.Condition, after, begun(c.Latest)) {
			return fmt.Sprintf("%s: the latest order at %s is too late if the loss is at .%03d", c.Condition.String(), c.Latest, after)
		}
		if late := more(p, c); played(t, p, &c.Condition, after, begun(c.Latest+late)) {
			return fmt.Sprintf("%s: not %s, %d ms later will do if the loss is at .%03d", c.Condition.String(), c.Latest, late, after)
		}
	}
	return ""
}

// little is by how much the budget may be on the safe side: the hundredth of a second
// that it allows for, and what stops that come a little later can change besides.
const little = 15 * ms

// more is that of a condition: the budget allows for more in hours, and where strings
// differ.
func more(p *plan.Plan, c *budget.Reckoning) vtime.Tick {
	if differ(p) {
		return little + c.Runtime/1000
	}
	return little + c.Runtime/200_000
}

// TestLatestMoment: to begin then is clean, a little later is not.
func TestLatestMoment(t *testing.T) {
	p := load(t, rack)
	for _, c := range bare(p).Conditions {
		if wrong := onLatest(t, p, &c); wrong != "" || c.Latest < sec {
			t.Errorf("latest %s: %s", c.Latest, wrong)
		}
	}
}

// easier is p with every stop a little shorter, and where strings differ with loads a
// little smaller: where that turns an answer of the budget, the engine, which allows for
// nothing, may turn it too.
func easier(p *plan.Plan) *plan.Plan {
	q := *p
	q.Hosts = append([]plan.Host(nil), p.Hosts...)
	for i := range q.Hosts {
		q.Hosts[i].Stop -= little
		if differ(p) {
			q.Hosts[i].DrawW *= 0.998
		}
	}
	return &q
}

// differ says whether a weak block makes one string another than those beside it.
func differ(p *plan.Plan) bool { return p.Battery.Weak != nil && p.Battery.Strings > 1 }

// inWorstPhase is inPhases, and besides with polls that see nothing just before the
// unit says low battery, as far as the budget knows when that is; else at many phases.
func inWorstPhase(t T, p *plan.Plan, change func(*plan.Plan)) bool {
	if !inPhases(t, p, change) {
		return false
	}
	q := *p
	policy := *p.Policy
	q.Policy = &policy
	change(&q)
	poll := policy.Poll
	for _, c := range bare(&q).Conditions {
		var phases []vtime.Tick
		if c.Decided == vtime.Never {
			for k := range vtime.Tick(16) {
				phases = append(phases, poll*k/16)
			}
		} else {
			for _, before := range []vtime.Tick{5 * ms, 50 * ms, 300 * ms} {
				low := c.Decided - poll*vtime.Tick(policy.Confirm) - before
				phases = append(phases, (poll-low%poll)%poll)
			}
		}
		for _, after := range phases {
			if !played(t, p, &c.Condition, after, change) {
				return false
			}
		}
	}
	return true
}
