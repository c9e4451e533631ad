package card

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/image"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

var boss = snap.Actor{Surface: "ssh", User: "anna"}

// updatable is a card with that memory that takes images of scenario 1.
func updatable(t *testing.T, m *snap.Memory, quirks ...snap.Quirk) *Card {
	t.Helper()
	cfg := config(m)
	cfg.Identity.Model, cfg.Identity.Firmware, cfg.ImageKey, cfg.Quirks = "Example card", "1.0", image.Public(1), quirks
	if m != nil {
		if err := CheckMemory(m, cfg.Identity.SerialNumber); err != nil {
			t.Fatal(err)
		}
	}
	c := New(cfg, &plan.Network{}, 1, date, unheard)
	c.Start()
	return c
}

func next() *snap.Release { return &snap.Release{Model: "Example card", Version: "2.0"} }

// offer gives c an image, spoiled or not.
func offer(t *testing.T, c *Card, now vtime.Tick, fault string, r *snap.Release, takes vtime.Tick) {
	t.Helper()
	b, err := image.Spoiled(fault, r, 1000, image.Key(1))
	if err != nil {
		t.Fatal(err)
	}
	c.Upload(now, boss, b, r.Version, takes)
}

// lives lets c do what is due up to a time.
func lives(c *Card, from, to vtime.Tick) {
	for now := from; now <= to; now = max(c.Deadline(now), now+1) {
		c.Due(now, State{}, func(snap.Notification) {})
		if c.Deadline(now) == vtime.Never {
			return
		}
	}
}

// TestRefusedImagesChangeNothing: but for the count of them.
func TestRefusedImagesChangeNothing(t *testing.T) {
	for i, fault := range []string{"wrong-signature", "garbled", "truncated", "other-model"} {
		c := updatable(t, nil)
		before := *c.kept.Firmware
		offer(t, c, 10, fault, next(), 0)
		if before.Refusals = 1; !cmp.Equal(before, *c.kept.Firmware) {
			t.Errorf("%d %s: %+v", i, fault, c.kept.Firmware)
		}
		if last := c.journal.entries[len(c.journal.entries)-1].Text; !strings.Contains(last, "refused") {
			t.Errorf("%s: the journal ends with %q", fault, last)
		}
		if r := c.Switch(20, boss, false); r.Status != snap.Inconsistent || !c.Running() {
			t.Errorf("%s: switched", fault)
		}
	}
}

// TestCutUploads: whatever takes the card away while an image arrives, what was in the
// spare slot stays.
func TestCutUploads(t *testing.T) {
	for name, away := range map[string]func(*Card){
		"lead":    func(c *Card) { c.Plug(62*vtime.Second, false) },
		"restart": func(c *Card) { c.Restart(62 * vtime.Second) },
		"supply":  func(c *Card) { c.Power(62*vtime.Second, false) },
	} {
		c := updatable(t, nil)
		offer(t, c, vtime.Second, "", next(), 0)
		had := c.kept.Firmware.Slots
		later := next()
		later.Version = "2.1"
		offer(t, c, vtime.Second, "", later, 100*vtime.Second)
		if d := c.Deadline(vtime.Second); d != 101*vtime.Second || c.uploading() == nil {
			t.Fatalf("%s: due at %v", name, d)
		}
		away(c)
		c.Due(62*vtime.Second, State{}, func(snap.Notification) {})
		if diff := cmp.Diff(had, c.kept.Firmware.Slots); diff != "" || c.uploading() != nil {
			t.Errorf("%s: uploading %v\n%s", name, c.uploading(), diff)
		}
		if c.kept.Firmware.Refusals != 1 {
			t.Errorf("%s: %d refusals", name, c.kept.Firmware.Refusals)
		}
	}
}

// TestKilledWhileItTries: a card whose supply, or whose process, goes between the
// switch and the first start comes up with firmware that passes, whatever it was.
func TestKilledWhileItTries(t *testing.T) {
	for fault, want := range map[string]string{"": "2.0", "fails-test": "1.0"} {
		m := &snap.Memory{}
		c := updatable(t, m)
		lay(m, c.Keep())
		offer(t, c, 10, fault, next(), 0)
		if r := c.Switch(20, boss, false); r.Status != snap.Done {
			t.Fatal(r)
		}
		lay(m, c.Keep())
		again := updatable(t, m)
		if got := again.identity(); got.Firmware != want || got.First != "1.0" || !again.Running() || again.kept.Firmware.Trying {
			t.Errorf("%q: %+v, %+v", fault, got, again.kept.Firmware)
		}
		c.Power(30, false)
		c.Power(40, true)
		lives(c, 40, 10*vtime.Minute)
		if got := c.identity().Firmware; got != want || !c.Running() {
			t.Errorf("%q: %s after the supply came back", fault, got)
		}
		if c.kept.Firmware.Slots != again.kept.Firmware.Slots && c.kept.Firmware.Slots[1].State != again.kept.Firmware.Slots[1].State {
			t.Errorf("%q: two memories of one history", fault)
		}
	}
}

// TestWhichWay: switch goes to what has never run, return to what has.
func TestWhichWay(t *testing.T) {
	c := updatable(t, nil)
	now := vtime.Tick(0)
	settle := func() { lives(c, now, now+10*vtime.Minute); now += 11 * vtime.Minute }
	refuse := func(back bool, why string) {
		t.Helper()
		if r := c.Switch(now, boss, back); r.Status != snap.Inconsistent || !strings.Contains(r.Reason, why) {
			t.Errorf("%+v, want %q", r, why)
		}
	}
	refuse(false, "nothing in slot B")
	refuse(true, "nothing in slot B")
	offer(t, c, now, "", next(), 0)
	refuse(true, "never run")
	c.Switch(now, boss, false)
	settle()
	refuse(false, "ran before")
	if c.identity().Firmware != "2.0" {
		t.Fatal(c.identity())
	}
	c.Switch(now, boss, true)
	settle()
	if c.identity().Firmware != "1.0" || c.kept.Firmware.Spare().State != snap.SlotGood {
		t.Fatalf("%+v", c.kept.Firmware)
	}
	offer(t, c, now, "fails-test", next(), 0)
	c.Switch(now, boss, false)
	settle()
	refuse(false, "did not pass")
	refuse(true, "did not pass")
	if f := c.kept.Firmware; f.Returns != 1 || c.identity().Firmware != "1.0" {
		t.Errorf("%+v", f)
	}
}

// TestWhatAnUpdateForgets: settings and accounts go as the release says, once.
func TestWhatAnUpdateForgets(t *testing.T) {
	c := updatable(t, nil)
	s := *c.kept.Settings.Clone()
	s.Name, s.Location = "as commissioned", "Room 2"
	c.Save(1, boss, s, 0)
	c.ChangeLabel(2, boss)
	r := next()
	r.Resets, r.Settings = "accounts", []snap.ReleaseSetting{{Path: "identity.location", Value: "factory"}}
	offer(t, c, 3, "", r, 0)
	c.Switch(4, boss, false)
	lives(c, 4, 10*vtime.Minute)
	if k := c.kept; k.Settings.Name != "as commissioned" || k.Settings.Location != "factory" || c.inForce.Location != "factory" || !k.Accounts[0].Label {
		t.Errorf("%+v %+v", k.Settings, k.Accounts)
	}
	c.ChangeLabel(11*vtime.Minute, boss)
	c.Restart(12 * vtime.Minute)
	lives(c, 12*vtime.Minute, 20*vtime.Minute)
	if c.kept.Accounts[0].Label {
		t.Error("it forgets with every start")
	}
	impossible := next()
	impossible.Version, impossible.Settings = "2.1", []snap.ReleaseSetting{{Path: "reach.gateway", Value: "198.51.100.1"}}
	offer(t, c, 21*vtime.Minute, "", impossible, 0)
	c.Switch(21*vtime.Minute, boss, false)
	lives(c, 21*vtime.Minute, 30*vtime.Minute)
	if c.identity().Firmware != "2.1" || c.kept.Settings.Gateway.IsValid() {
		t.Error("settings that do not fit together were taken")
	}
}

// TestQuirksOfFirmware: they come with it and go with it, and what the card came with
// is back.
func TestQuirksOfFirmware(t *testing.T) {
	own := snap.Quirk{Kind: snap.QuirkPaddedAlarms, Count: 3}
	c := updatable(t, nil, own)
	r := next()
	r.Quirks = []snap.ReleaseQuirk{{Name: "no-bulk"}, {Name: "padded-alarms", Off: true}}
	offer(t, c, 1, "", r, 0)
	c.Switch(2, boss, false)
	if c.TakeQuirks() != nil {
		t.Error("quirks of firmware that does not run yet")
	}
	lives(c, 2, 10*vtime.Minute)
	on := []QuirkChange{{snap.Quirk{Kind: snap.QuirkNoBulk}, true}, {snap.Quirk{Kind: snap.QuirkPaddedAlarms}, false}}
	if diff := cmp.Diff(on, c.TakeQuirks()); diff != "" || c.TakeQuirks() != nil {
		t.Error(diff)
	}
	c.Switch(11*vtime.Minute, boss, true)
	lives(c, 11*vtime.Minute, 20*vtime.Minute)
	off := []QuirkChange{{snap.Quirk{Kind: snap.QuirkNoBulk}, false}, {own, true}}
	if diff := cmp.Diff(off, c.TakeQuirks()); diff != "" {
		t.Error(diff)
	}
}

// TestForeignFirmware: what a memory holds is looked at before anything runs.
func TestForeignFirmware(t *testing.T) {
	for text, want := range map[string]string{
		`null`:                          "which slot runs",
		`{"slots":[{},{}],"running":2}`: "which slot runs",
		`{"slots":[{},{}],"running":0}`: "slot A, which runs",
		`{"slots":[{"state":"failed"},{}],"running":0}`:                                                 "slot A, which runs",
		`{"slots":[{"state":"good"},{"state":"new","release":{"model":"m","version":""}}],"running":0}`: "slot B: the version",
	} {
		m := &snap.Memory{Sections: map[string]json.RawMessage{"firmware": []byte(text)}}
		if err := CheckMemory(m, "RT0001"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
}
