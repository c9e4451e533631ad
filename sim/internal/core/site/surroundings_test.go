package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// pair are two probes, one of them 10 K warmer, in a room that stays at 22 C.
const pair = head + one + `
[room]
temp_c = 22
outside_c = 22
volume_m3 = 100000
[[probe]]
name = "inlet"
id = "00000001"
lag = "0s"
noise_k = 0
humidity = true
high_warn_c = 27
high_warn_pct = 60
delay = "30s"
contact = [{ name = "door", rests = "closed" }, { name = "leak", debounce = "1s" }]
[[probe]]
name = "exhaust"
id = "00000002"
offset_k = 10
lag = "0s"
noise_k = 0
high_warn_c = 37
delay = "30s"
`

// keep changes the card's settings, now.
func keep(t *testing.T, r *playtest.Run, change func(*snap.Settings) error) snap.Result {
	t.Helper()
	m := r.Site.Card.Saved.Clone()
	if err := change(m); err != nil {
		t.Fatal(err)
	}
	return r.Do(snap.Command{Op: snap.OpSave, By: snap.Actor{Surface: "serial", User: "tester", Role: snap.Administrator}, Settings: m})
}

func put(path, value string) func(*snap.Settings) error {
	return func(s *snap.Settings) error {
		ref, err := setting.Find(s, path)
		if err != nil {
			return err
		}
		return ref.Set(s, value)
	}
}

func kinds(r *playtest.Run) (list []string) {
	for _, n := range r.Sent {
		switch n.Kind {
		case snap.NotifyProbeAlert, snap.NotifyProbeBetter:
			list = append(list, n.Kind.String()+" "+r.Site.Probes.List[n.Row-1].Name+" "+n.Cause.String())
		case snap.NotifyContact:
			list = append(list, n.Kind.String()+" "+r.Site.Outlets.Roster.Contacts[n.Row-1].Name+" "+n.Contact.String())
		}
	}
	return list
}

func wantKinds(t *testing.T, r *playtest.Run, want ...string) {
	t.Helper()
	if got := kinds(r); strings.Join(got, ", ") != strings.Join(want, ", ") {
		t.Errorf("sent %q, want %q", got, want)
	}
}

// TestSwap: readings follow the id, or the socket where a card knows nothing else.
func TestSwap(t *testing.T) {
	for name, row := range map[string]struct {
		card, swap     string
		inlet, exhaust float64
		moved          int // noted by the card
		doorAt         string
	}{
		"sockets, by id":     {"", "sockets", 22, 32, 2, "normal"},
		"places, by id":      {"", "places", 32, 22, 0, "normal"},
		"sockets, by socket": {"tell_probes_apart = \"socket\"\n", "sockets", 32, 22, 0, "active"}, // nothing is wired there: it looks open
	} {
		r := playtest.Start(t, strings.Replace(pair, "[card]\n", "[card]\n"+row.card, 1)).To(min).Inject(`probe = { swap = ["inlet", "exhaust"], of = "` + row.swap + `" }`).To(3 * min)
		p := r.Site.Probes.List
		if p[0].TempC != row.inlet || p[1].TempC != row.exhaust || r.Count("is in socket") != row.moved || r.Site.Contacts[0].String() != row.doorAt {
			t.Errorf("%s: %+v, %s\n%s", name, p[:2], r.Site.Contacts[0], r.Trace())
		}
	}
}

// TestCauses: temperature, humidity and rise alert by themselves, once each, with
// their own cause, and end by themselves.
func TestCauses(t *testing.T) {
	r := playtest.Start(t, strings.Replace(pair, "high_warn_c = 27", "high_warn_c = 27\nrise_k = 3\nrise_in = \"3m\"", 1)).To(min)
	r.Inject(`probe = { warm = "inlet", by_k = 4 }`).To(3 * min) // 26 C: a rise, no limit
	wantKinds(t, r, "probe_alert inlet rise")
	if p := r.Site.Probes.List[0]; p.RiseK != 4 || p.State != snap.ProbeWarn || p.Cause() != snap.CauseRise {
		t.Errorf("%+v", p)
	}
	r.To(6 * min) // the rise is older than its time
	wantKinds(t, r, "probe_alert inlet rise", "probe_better inlet rise")
	r.Inject(`probe = { warm = "inlet", by_k = 4, by_pct = 30 }`).To(8 * min)
	wantKinds(t, r, "probe_alert inlet rise", "probe_better inlet rise", "probe_alert inlet humidity")
	r.Inject(`probe = { warm = "inlet", by_k = 6, by_pct = 30 }`).To(10 * min) // 28 C beside it
	if got := kinds(r); got[len(got)-1] != "probe_alert inlet temperature" || r.Site.Probes.List[0].Alerts != 3 {
		t.Errorf("%q, %+v", got, r.Site.Probes.List[0])
	}
	r.Inject(`probe = { warm = "inlet" }`).To(12 * min)
	if p := r.Site.Probes.List[0]; p.State != snap.ProbeNormal || p.Clears != 3 || p.Alerts != 3 {
		t.Errorf("%+v", p)
	}
	if r.Site.Probes.List[1].Alerts != 0 {
		t.Error("the other probe alerts")
	}
}

// TestNoiseDoesNotFlap: 0.3 K of noise at the limit give one alert with hysteresis
// and delay (drill D11), and many without.
func TestNoiseDoesNotFlap(t *testing.T) {
	noisy := strings.Replace(pair, "noise_k = 0\nhumidity", "noise_k = 0.3\nhumidity", 1)
	for src, most := range map[string]int{
		noisy: 1,
		strings.Replace(noisy, "high_warn_c = 27\n", "high_warn_c = 27\nhysteresis_k = 0\n", 1):                                            -1,
		strings.Replace(strings.Replace(noisy, "delay = \"30s\"", "", 1), "high_warn_c = 27\n", "high_warn_c = 27\nhysteresis_k = 0\n", 1): -20,
	} {
		r := playtest.Start(t, src).Inject(`probe = { warm = "inlet", by_k = 5 }`).To(3 * vtime.Hour)
		n := int(r.Site.Probes.List[0].Alerts)
		if most > 0 && n != most || most < 0 && n <= -most {
			t.Errorf("%d alerts, want %d", n, most)
		}
	}
}

// TestUnpairAndPairAgain: without an id there is no reading and no alert; another
// probe under the same name keeps the limits. What was found is noted.
func TestUnpairAndPairAgain(t *testing.T) {
	r := playtest.Start(t, pair).To(min)
	if res := keep(t, r, put("surroundings.probe.inlet.id", "none")); res.Status != snap.Done {
		t.Fatalf("%+v", res)
	}
	if p := r.Site.Probes.List[0]; p.State != snap.ProbeUnpaired || r.Site.Contacts[0] != snap.ContactLost {
		t.Fatalf("%+v, %s", p, r.Site.Contacts[0])
	}
	wantKinds(t, r)
	once(t, r, "a probe was found in socket 1, id 00000001: not paired")
	if res := keep(t, r, put("surroundings.probe.inlet.id", "00000002")); res.Status != snap.WrongValue {
		t.Errorf("two names for one probe: %+v", res)
	}
	keep(t, r, put("surroundings.probe.inlet.id", "00000001"))
	r.To(2 * min)
	if p := r.Site.Probes.List[0]; p.State != snap.ProbeNormal || p.TempC != 22 || r.Site.Contacts[0] != snap.ContactNormal {
		t.Errorf("%+v", p)
	}
	wantKinds(t, r)
}

// TestRename: the state stays with the probe, also where rows move.
func TestRename(t *testing.T) {
	r := playtest.Start(t, pair).Inject(`probe = { warm = "exhaust", by_k = 7 }`).To(2 * min)
	wantKinds(t, r, "probe_alert exhaust temperature")
	keep(t, r, func(s *snap.Settings) error {
		s.Surroundings.Probes[1].Name = "rear"
		s.Surroundings.Probes[0], s.Surroundings.Probes[1] = s.Surroundings.Probes[1], s.Surroundings.Probes[0]
		return nil
	})
	r.To(4 * min)
	p := r.Site.Probes.List
	if p[0].Name != "rear" || p[0].State != snap.ProbeWarn || p[0].Alerts != 1 || p[1].Name != "inlet" || r.Site.Outlets.Roster.Contacts[0].At != 1 {
		t.Errorf("%+v", p[:2])
	}
	if r.Site.Probes.Changed != 2*min {
		t.Errorf("changed at %v", r.Site.Probes.Changed)
	}
	r.Inject(`probe = { warm = "exhaust" }`).To(6 * min)
	wantKinds(t, r, "probe_alert inlet temperature", "probe_better rear temperature") // row 2 was the first, and is inlet's now
}

// TestRemoved: what waits to be told of a row that goes is not told.
func TestRemoved(t *testing.T) {
	r := playtest.Start(t, pair).To(min)
	for _, change := range []string{`probe = {unplug = "exhaust"}`, `probe = {plug = "exhaust"}`, `probe = {unplug = "exhaust"}`} {
		r.Inject(change)
	}
	keep(t, r, func(s *snap.Settings) error { s.Surroundings.Probes = s.Surroundings.Probes[:1]; return nil })
	left := len(r.Sent)
	if r.To(2 * min); left != 2 || len(r.Sent) != left { // the cold start and the first loss; the rest waited its five seconds
		t.Errorf("%d notifications, then %d", left, len(r.Sent))
	}
}

// TestLimitsAtOnce: a limit counts as soon as it is saved.
func TestLimitsAtOnce(t *testing.T) {
	r := playtest.Start(t, pair).To(min)
	keep(t, r, put("surroundings.probe.inlet.high-warn", "21"))
	r.To(min + 25*sec)
	wantKinds(t, r)
	r.To(2 * min)
	wantKinds(t, r, "probe_alert inlet temperature")
	keep(t, r, put("surroundings.probe.inlet.high-warn", "none"))
	r.To(3 * min)
	wantKinds(t, r, "probe_alert inlet temperature", "probe_better inlet temperature")
}

// TestSense: the wrong way round a contact reports at rest. An input that looks for
// a resistor where there is none reads an open contact as cut.
func TestSense(t *testing.T) {
	r := playtest.Start(t, strings.Replace(pair, `name = "door", rests = "closed"`, `name = "door", rests = "closed", set_as = "open"`, 1)).To(min)
	wantKinds(t, r, "contact_changed door active")
	keep(t, r, put("surroundings.contact.door.rests", "closed"))
	keep(t, r, put("surroundings.contact.leak.supervised", "yes"))
	r.To(2 * min)
	wantKinds(t, r, "contact_changed door active", "contact_changed door normal", "contact_changed leak fault")
}

// TestEachOfAFleetHasItsProbes: ids differ, and every card is paired with its own.
func TestEachOfAFleetHasItsProbes(t *testing.T) {
	p, err := scenario.Load("f.toml", []byte(strings.ReplaceAll(pair, `id = "00000001"`, "")+"[fleet]\ncount = 3\n"), scenario.Options{})
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{p.Probes[0].ID: true}
	for n := 1; n <= 3; n++ {
		m := scenario.Member(p, n)
		id := m.Card.Settings.Surroundings.Probes[0].ID
		if seen[id] || id != m.ProbeID(&p.Probes[0]) || m.Card.Settings.Surroundings.Probes[1].ID != "00000002" {
			t.Errorf("device %d: %q", n, id)
		}
		seen[id] = true
	}
	if p.Card.Settings.Surroundings.Probes[0].ID != p.Probes[0].ID {
		t.Error("a device changed the plan")
	}
}
