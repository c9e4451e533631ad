package site_test

import (
	"encoding/json"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/snap"
)

const switched = shedding + `min_off = "15s"
[[group]]
name = "wall"
fed_by = "mains"
`

var kim = snap.Actor{Surface: "ssh", User: "kim", Role: snap.Operator, Peer: "198.51.100.7"}

func order(r *playtest.Run, group, what string) snap.Result {
	return r.Do(snap.Command{Op: snap.OpSwitch, By: kim, Group: group, Text: what})
}

// journal says whether the card's journal has a line with text.
func journal(r *playtest.Run, text string) bool {
	for _, e := range r.Site.Card.Journal {
		if strings.Contains(e.Text, text) {
			return true
		}
	}
	return false
}

// TestSwitch: off stays off over an outage of the output, on does not wait for the
// delay after the output but for the shortest time off, and the journal names who it
// was.
func TestSwitch(t *testing.T) {
	r := playtest.Start(t, switched).To(min)
	if got := order(r, "desks", "off"); got.Status != snap.Done {
		t.Fatal(got)
	}
	expectGroups(t, r, "101")
	if g := r.Site.Groups[1]; g.Cause != snap.CauseOrder || r.Site.Outlets.Cause(1) != snap.CauseOrder || g.LoadW != 0 || r.Site.Groups[0].LoadW != 500 {
		t.Errorf("%+v", r.Site.Groups)
	}
	r.Inject(`output = "off"`).To(2 * min).Inject(`output = "on"`).To(3 * min)
	expectGroups(t, r, "101")
	order(r, "desks", "on")
	expectGroups(t, r, "111")
	if !journal(r, "group desks ordered off by kim, operator (ssh from 198.51.100.7)") {
		t.Errorf("%+v", r.Site.Card.Journal)
	}
}

// TestCycle: off for ten seconds or the shortest time off, whichever is more, and on
// again without anybody.
func TestCycle(t *testing.T) {
	r := playtest.Start(t, switched).To(min)
	order(r, "desks", "cycle")
	order(r, "racks", "cycle")
	expectGroups(t, r, "001")
	expectGroups(t, r.To(min+10*sec-ms), "001")
	expectGroups(t, r.To(min+10*sec), "101")
	expectGroups(t, r.To(min+15*sec-ms), "101")
	expectGroups(t, r.To(min+15*sec), "111")
	if h := host(t, r, "desk"); h.Cuts != 1 || r.Site.Groups[1].WasOff != 15*sec {
		t.Errorf("%+v, %+v", h, r.Site.Groups[1])
	}
}

// TestRefusedOrders: each with its reason, and nothing is switched.
func TestRefusedOrders(t *testing.T) {
	for name, row := range map[string]struct {
		before, group, what string
		status              snap.Status
		reason              string
	}{
		"no such group": {"", "cellar", "off", snap.WrongValue, "no outlet group"},
		"no such order": {"", "desks", "blink", snap.WrongValue, "expected off, on or cycle"},
		"past the unit": {"", "wall", "off", snap.Inconsistent, "past the unit"},
		"locked out":    {`remote_switching = "locked"`, "desks", "off", snap.Inconsistent, "locked out"},
		"no contact":    {`ups_link = "lost"`, "desks", "off", snap.Busy, "no contact"},
		"card restarts": {`card = "restart"`, "desks", "off", snap.Busy, "does not answer"},
	} {
		r := playtest.Start(t, switched).To(min)
		if row.before != "" {
			r.Inject(row.before)
		}
		got := order(r, row.group, row.what)
		if got.Status != row.status || !strings.Contains(got.Reason, row.reason) {
			t.Errorf("%s: %+v", name, got)
		}
		expectGroups(t, r.To(2*min), "111")
	}
	r := playtest.Start(t, switched).To(min)
	if got := r.Do(snap.Command{Op: snap.OpSwitch, By: snap.Actor{Surface: "ssh", User: "lou", Role: snap.Viewer}, Group: "desks", Text: "off"}); got.Status != snap.Denied {
		t.Errorf("a viewer: %+v", got)
	}
	order(r, "desks", "off")
	if got := order(r, "desks", "cycle"); got.Status != snap.Inconsistent {
		t.Errorf("a cycle of what is off: %+v", got)
	}
}

// TestLockOut: it refuses every way to switch from remote, and lets a countdown be
// called off. A cycle under way stays off. The unit's own switch works.
func TestLockOut(t *testing.T) {
	r := playtest.Start(t, switched).To(min)
	order(r, "desks", "cycle")
	r.Inject(`remote_switching = "locked"`)
	for _, set := range []snap.Assignment{
		{Var: snap.VarShutdownAfter, Int: 0}, {Var: snap.VarStartupAfter, Int: 5}, {Var: snap.VarReboot, Int: 1},
		{Var: snap.VarGroupOrder, Row: 1, Int: int64(snap.OrderOff)},
	} {
		if got := r.Set(set); got.Status != snap.Inconsistent || !strings.Contains(got.Reason, "locked out") {
			t.Errorf("%+v: %+v", set, got)
		}
	}
	if got := r.Set(snap.Assignment{Var: snap.VarShutdownAfter, Int: -1}); got.Status != snap.Done {
		t.Errorf("a countdown called off: %+v", got)
	}
	expectGroups(t, r.To(2*min), "101")
	if !r.Site.Outlets.Locked || !journal(r, "locked out at the unit") {
		t.Errorf("%+v", r.Site.Outlets)
	}
	if r.Inject(`output = "off"`); r.Site.UPS.OutputOn {
		t.Error("the unit's own switch is locked too")
	}
	r.Inject(`output = "on"`).Inject(`remote_switching = "allowed"`)
	order(r, "desks", "on")
	expectGroups(t, r.To(3*min), "111")
}

// TestOrderBySNMP: one row of our own module, alone or several in a request; what
// is refused leaves all as it was.
func TestOrderBySNMP(t *testing.T) {
	off := func(row int) snap.Assignment {
		return snap.Assignment{Var: snap.VarGroupOrder, Row: row, Int: int64(snap.OrderOff)}
	}
	r := playtest.Start(t, switched).To(min)
	for _, sets := range [][]snap.Assignment{{off(1), off(3)}, {off(4)}, {off(0)}, {off(1), off(1)}, {{Var: snap.VarGroupOrder, Row: 1, Int: 9}}} {
		if got := r.Set(sets...); got.Status == snap.Done {
			t.Errorf("%+v was done", sets)
		}
		expectGroups(t, r, "111")
	}
	if got := r.Set(snap.Assignment{Var: snap.VarGroupOrder, Row: 1, Int: int64(snap.OrderNone)}); got.Status != snap.Done {
		t.Error(got)
	}
	if got := r.Set(off(1), off(2)); got.Status != snap.Done {
		t.Error(got)
	}
	expectGroups(t, r, "001")
}

// TestHeldOverALife: what was ordered off in an earlier life of the card is off when
// the next begins, with what hangs on it; whatever that memory names beside is no
// matter.
func TestHeldOverALife(t *testing.T) {
	p, err := scenario.Load("test.toml", []byte(switched), scenario.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p.Card.Memory = &snap.Memory{Sections: map[string]json.RawMessage{"groups-off": json.RawMessage(`["desks", "wall", "gone"]`)}}
	r := playtest.StartPlan(t, p)
	expectGroups(t, r, "101")
	if h := host(t, r, "desk"); h.State != snap.HostOff || h.Powered || r.Site.Power.OutputW != 500 {
		t.Errorf("%+v, %v W", h, r.Site.Power.OutputW)
	}
	r.To(min)
	order(r, "desks", "on")
	if r.To(10 * min); host(t, r, "desk").State != snap.HostRunning {
		t.Errorf("%+v", host(t, r, "desk"))
	}
}
