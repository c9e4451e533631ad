package menu

import (
	"os"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/term/termtest"
)

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
// confirmed.
func TestEachActHasACaution(t *testing.T) {
	card := termtest.New()
	card.Change(func(d *snap.Device) {
		d.Outlets = snap.Outlets{Roster: &snap.Roster{Groups: []snap.RosterGroup{{Name: "a"}}, Hosts: []snap.RosterHost{{Name: "db", Groups: 1}}}, Live: 1, TurnsAt: vtime.Never}
		d.Battery.ChargePct = 80
	})
	by := snap.Actor{Surface: "ssh", User: termtest.User, Role: snap.Administrator}
	v := View{Dev: card.Device(), Now: card.Now(), by: by}
	for _, w := range words {
		for _, args := range acts[w.name] {
			v.Dev = withSpare(card.Device(), args)
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
	}
	if r := Once(v, by, "start-test quick"); !strings.Contains(r.Text, "below 90 %") || !strings.Contains(r.Text, "On live outlets, as the card was told: db.") {
		t.Errorf("%s", r.Text)
	}
}

// withSpare is d with firmware in the spare slot to switch or to return to.
func withSpare(d *snap.Device, verb string) *snap.Device {
	fitted, f := *d, *snap.FirstFirmware()
	f.Spare().State = snap.SlotNew
	if verb == "return" {
		f.Spare().State = snap.SlotGood
	}
	fitted.Card.Firmware = &f
	return &fitted
}

// TestNoActWithoutCaution: whoever adds an act that switches gets a caution even if
// he has written none, and one that does not gets none.
func TestNoActWithoutCaution(t *testing.T) {
	card := termtest.New()
	v := View{Dev: card.Device(), Now: card.Now()}
	for _, c := range []snap.Command{
		{Op: snap.OpSwitch, Group: "a", Text: "off"}, setOne(snap.VarReboot, 0), setOne(snap.VarStartupAfter, 5), setOne(snap.VarTestID, 4),
	} {
		a := action{command: func(View, []string) snap.Command { return c }}
		if text := a.warns(v, nil); !strings.HasPrefix(text, "CAUTION") || !strings.Contains(text, decides) || a.word() != "yes" {
			t.Errorf("%+v: %q", c, text)
		}
	}
	for _, c := range []snap.Command{{Op: snap.OpEnergyReset}, powerKeep.command(v, nil), testCommand(v, snap.TestAbort), setOne(snap.VarAudible, 3)} {
		a := action{command: func(View, []string) snap.Command { return c }}
		if text := a.warns(v, nil); text != "" {
			t.Errorf("%+v: %q", c, text)
		}
	}
}

// harmless are the acts that touch neither the load nor a person on site, with the
// reason; of those with a caution all the same the reason why it is not about the load.
var harmless = map[string]string{
	"reset": "settings of the card; its own caution", "account add": "who signs in", "account remove": "who signs in; its own caution",
	"account role": "who signs in", "account password": "who signs in", "account unlock": "who signs in", "password": "who signs in",
	"try": "a message", "set-clock": "its own caution: the schedule", "power keep": "takes an order back before it acts",
	"abort-test": "the load goes back to the mains", "energy-reset": "a meter; its own caution", "ping": "a packet",
	"probes pair": "a name", "probes unpair": "a name", "probes rename": "a name",
	"relay test": "its own caution: what is wired to it", "relay on": "its own caution: what is wired to it", "relay off": "its own caution: what is wired to it",
	"skip": "its own caution: what stays off or live",
}

// TestEveryActIsWeighed: each act of the menu is either tried for its caution above or
// said to be harmless, and why; who adds one has to decide. What has a caution of its
// own shows one.
func TestEveryActIsWeighed(t *testing.T) {
	weigh := func(name string, act *action) {
		word, verb, _ := strings.Cut(name, " ")
		reason, known := harmless[name]
		for _, line := range acts[word] {
			if v, _, _ := strings.Cut(line, " "); verb == "" || v == verb {
				if known = true; reason != "" {
					t.Errorf("%s is tried for its caution and said to be harmless", name)
				}
			}
		}
		if !known {
			t.Errorf("%s: does it touch the load or a person? give it a caution and a line in acts, or a reason in harmless", name)
		}
		if strings.Contains(reason, "its own caution") && act.caution == nil {
			t.Errorf("%s has no caution of its own", name)
		}
	}
	for _, w := range words {
		if w.act != nil {
			weigh(w.name, w.act)
		}
		for _, v := range w.acts {
			weigh(w.name+" "+v.name, v.act)
		}
	}
}

// TestSafetyIsDescribed: docs/safety.md names each word with a caution.
func TestSafetyIsDescribed(t *testing.T) {
	page, err := os.ReadFile("../../../../docs/safety.md")
	if err != nil {
		t.Fatal(err)
	}
	for name, lines := range acts {
		for _, args := range lines {
			verb, _, _ := strings.Cut(args, " ")
			if !strings.Contains(string(page), "`"+strings.TrimSpace(name+" "+verb)+"`") && !strings.Contains(string(page), "`"+name+"`") {
				t.Errorf("docs/safety.md says nothing of %s %s", name, verb)
			}
		}
	}
}

// TestShowBarsWhatTheWordBars: show WORD opens no word to who may not use it, in a
// dialog or on a command line, as text or as data, wherever the option stands.
func TestShowBarsWhatTheWordBars(t *testing.T) {
	card, tried := termtest.New(), 0
	for _, w := range words {
		if w.read == nil || w.role() <= snap.Viewer {
			continue
		}
		for role := snap.Viewer; role < w.role(); role++ {
			by := snap.Actor{Surface: "ssh", User: termtest.User, Role: role}
			v := View{Dev: card.Device(), Now: card.Now(), by: by}
			for _, line := range []string{w.name, w.name + " --json", "show " + w.name, "show " + w.name + " --json", "show --json " + w.name} {
				tried++
				want := w.barred(v)
				if r := Once(v, by, line); r.OK || r.Text != want {
					t.Errorf("%s, %q on a command line: %q", role, line, r.Text)
				}
				s, _ := Open(v, by)
				if _, out := s.Line(v, line); out.Text != want {
					t.Errorf("%s, %q in a dialog: %q", role, line, out.Text)
				}
			}
		}
		by := snap.Actor{Surface: "ssh", User: termtest.User, Role: w.role()}
		if r := Once(View{Dev: card.Device(), Now: card.Now()}, by, "show "+w.name); !r.OK {
			t.Errorf("%s may not: %q", w.role(), r.Text)
		}
	}
	if tried == 0 {
		t.Error("no word takes more than the role viewer")
	}
}
