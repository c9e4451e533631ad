package menu

import (
	"slices"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/term/termtest"
)

// harmless are acts that touch neither load nor people, each with the reason.
var harmless = map[string]string{
	"abort-test":   "the load goes back to the mains",
	"power keep":   "it leaves the output as it is",
	"set-clock":    "dates; a schedule by the clock tells its own cautions",
	"skip":         "switching by the schedule, once; it has a notice of its own",
	"try":          "a message",
	"probes":       "what measures, and its name",
	"energy-reset": "meters alone; it has a notice of its own",
	"audible on":   "people hear more",
	"audible mute": "until the next alarm",
	"account":      "who may sign in",
	"password":     "who may sign in",
	"reset":        "the output stays; it has a notice of its own",
}

// acts are the lines with which each word that acts on the unit is tried.
var acts = map[string][]string{
	"power":        {"off 60", "off 0", "on 0", "cycle 30"},
	"outlet":       {"off a", "on a", "cycle a"},
	"auto-restart": {"on", "off"},
	"start-test":   {"quick", "calibration", "systems"},
	"low-battery":  {"5"},
	"audible":      {"off"},
	"health-reset": {""},
	"firmware":     {"switch", "return"},
}

// TestEachActHasACaution: what switches the output or a group, or loads the
// battery, says first what it may do to the load and to people, that others
// decide, and waits for a word; without a dialog it is refused until it is
// confirmed. A word that acts stands in one of the tables.
func TestEachActHasACaution(t *testing.T) {
	card := termtest.New()
	card.Change(func(d *snap.Device) {
		d.Outlets = snap.Outlets{Roster: &snap.Roster{Groups: []snap.RosterGroup{{Name: "a"}}, Hosts: []snap.RosterHost{{Name: "db", Groups: 1}}}, Live: 1, TurnsAt: vtime.Never}
		d.Battery.ChargePct = 80
	})
	by := snap.Actor{Surface: "ssh", User: termtest.User, Role: snap.Administrator}
	v := View{Dev: card.Device(), Now: card.Now(), by: by}
	for _, w := range words {
		if w.act == nil && w.acts == nil {
			continue
		}
		if len(acts[w.name]) == 0 && harmless[w.name] == "" {
			t.Errorf("%s acts, and stands neither among what needs a caution nor among what does not", w.name)
		}
		for _, args := range acts[w.name] {
			line := strings.TrimSpace(w.name + " " + args)
			r := Once(v, by, line)
			for _, part := range []string{"CAUTION", decides, "--confirm"} {
				if r.OK || r.Command != nil || !strings.Contains(r.Text, part) {
					t.Errorf("%s: %q is not in %q", line, part, r.Text)
				}
			}
			r = Once(v, by, line+" --confirm")
			if r.Command == nil {
				t.Errorf("%s --confirm: %q", line, r.Text)
				continue
			}
			s, out := Open(v, by)
			s, out = s.Line(v, line)
			if s.stage != askConfirm || out.Command != nil || !strings.Contains(out.Text, decides) {
				t.Errorf("%s in a dialog: %q", line, out.Text)
			}
			if s, out = s.Line(v, "y"); out.Command != nil || s.stage != askWord {
				t.Errorf("%s: anything confirms it", line)
			}
		}
		for _, x := range w.acts {
			tried := slices.ContainsFunc(acts[w.name], func(args string) bool { return strings.HasPrefix(args, x.name) })
			if !tried && harmless[w.name] == "" && harmless[w.name+" "+x.name] == "" {
				t.Errorf("%s %s is not tried", w.name, x.name)
			}
		}
	}
	if r := Once(v, by, "start-test quick"); !strings.Contains(r.Text, "below 90 %") || !strings.Contains(r.Text, "On live outlets, as the card was told: db.") {
		t.Errorf("%s", r.Text)
	}
	for line, why := range harmless {
		if w, args, _ := strings.Cut(line, " "); args != "" && why != "" {
			if r := Once(v, by, line); r.Command == nil || switches(r.Command) {
				t.Errorf("%s (%s): %+v of %s", line, why, r, w)
			}
		}
	}
}

// switches says whether c may change what is live, or loads the battery.
func switches(c *snap.Command) bool {
	return c.Op == snap.OpSwitch || slices.ContainsFunc(c.Sets, func(a snap.Assignment) bool {
		switch a.Var {
		case snap.VarShutdownAfter, snap.VarStartupAfter, snap.VarReboot:
			return a.Int >= 0
		case snap.VarTestID:
			return a.Int != int64(snap.TestAbort)
		case snap.VarAutoRestart, snap.VarLowBattTime:
			return true
		}
		return false
	})
}
