package site_test

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// stimuli are what can happen to probes and contacts.
var stimuli = []string{
	`probe = {unplug = "inlet"}`, `probe = {plug = "inlet"}`, `probe = {unplug = "exhaust"}`, `probe = {plug = "exhaust"}`,
	`probe = {swap = ["inlet", "exhaust"]}`, `probe = {swap = ["exhaust", "inlet"], of = "places"}`,
	`probe = {warm = "inlet", by_k = 20, by_pct = 40, lasts = "3m"}`, `probe = {warm = "exhaust", by_k = -30}`, `probe = {warm = "inlet"}`,
	`contact = {name = "door", is = "open", bounces = "90ms"}`, `contact = {name = "door", is = "closed"}`, `contact = {name = "leak", is = "cut"}`,
	`contact = {name = "leak", is = "closed", bounces = "3s"}`, `contact = {name = "leak", is = "open"}`, `card = "restart"`,
}

// TestAnythingAround: whatever happens to probes, contacts and their settings, in any
// order, every instant settles, rows and settings agree, and a probe that is in no
// socket, or that nobody has paired, is never normal.
func TestAnythingAround(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := playtest.Start(t, pair)
		for range rapid.IntRange(1, 25).Draw(t, "plays") {
			if rapid.Bool().Draw(t, "a setting") {
				setSomething(t, r)
			} else {
				r.Inject(rapid.SampledFrom(stimuli).Draw(t, "stimulus"))
			}
			agree(t, r)
			r.To(r.Engine.Now() + vtime.Tick(rapid.SampledFrom([]int{1, 60, 7000, 31_000, 200_000}).Draw(t, "wait")))
			agree(t, r)
		}
	})
}

func setSomething(t *rapid.T, r *playtest.Run) {
	m := r.Site.Card.Saved.Clone()
	set := &m.Surroundings
	switch rapid.IntRange(0, 5).Draw(t, "change") {
	case 0:
		set.BySocket = !set.BySocket
	case 1:
		if len(set.Probes) > 0 {
			set.Probes[0], set.Probes[len(set.Probes)-1] = set.Probes[len(set.Probes)-1], set.Probes[0]
		}
	case 2:
		l, err := setting.FindList(rapid.SampledFrom([]string{"surroundings.probe", "surroundings.contact"}).Draw(t, "list"))
		if err != nil {
			t.Fatal(err)
		}
		if name := fmt.Sprintf("n%d", rapid.IntRange(0, 3).Draw(t, "name")); l.Add(m, name) != nil {
			_ = l.Remove(m, name) // it is there
		}
	default:
		refs := setting.In(m, setting.Surroundings)
		ref := rapid.SampledFrom(refs).Draw(t, "setting")
		_ = ref.Set(m, rapid.SampledFrom([]string{ // what is refused changes nothing
			"none", "yes", "no", "open", "closed", "id", "socket", "1", "2", "25", "0s", "1m", "00000001", "00000002", "inlet", "exhaust", "n1", "critical",
		}).Draw(t, "value"))
	}
	r.Do(snap.Command{Op: snap.OpSave, By: snap.Actor{Surface: "serial", User: "tester", Role: snap.Administrator}, Settings: m})
}

func agree(t *rapid.T, r *playtest.Run) {
	d := &r.Site.Device
	set := &d.Card.Settings.Surroundings
	if d.Probes.Count != len(set.Probes) || len(d.Outlets.Roster.Probes) != len(set.Probes) || len(d.Outlets.Roster.Contacts) != len(set.Contacts) {
		t.Fatalf("%d probes, roster %+v, set %+v", d.Probes.Count, d.Outlets.Roster, set)
	}
	plugged := map[string]bool{}
	for _, id := range d.Probes.Sockets {
		plugged[id] = id != ""
	}
	for i := range set.Probes {
		p := &d.Probes.List[i]
		there := plugged[set.Probes[i].ID]
		if set.BySocket {
			there = d.Probes.Sockets[i] != ""
		}
		if p.Name != set.Probes[i].Name || p.Name != d.Outlets.Roster.Probes[i].Name || p.Read() && !there {
			t.Fatalf("row %d: %+v, set %+v, sockets %v", i, p, set.Probes[i], d.Probes.Sockets)
		}
		if p.Read() && p.TempC == 0 {
			t.Fatalf("0 C: %+v", p)
		}
	}
	for i := range d.Outlets.Roster.Contacts {
		at := d.Outlets.Roster.Contacts[i].At
		if lost := d.Contacts[i] == snap.ContactLost; d.Probes.List[at].Name != d.Outlets.Roster.Contacts[i].Probe || d.Probes.List[at].State == snap.ProbeUnpaired && !lost {
			t.Fatalf("contact %d: %s of %+v", i, d.Contacts[i], d.Outlets.Roster.Contacts[i])
		}
	}
}
