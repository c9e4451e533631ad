package card_test

import (
	"encoding/json"
	"maps"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestRestartOverAnEntry: what falls due while the card restarts is made up for when
// it is back, once, and nobody is cut off without the whole warning.
func TestRestartOverAnEntry(t *testing.T) {
	night, morning := 10*vtime.Hour, 18*vtime.Hour
	for name, row := range map[string]struct {
		restart vtime.Tick
		more    string
		want    []string
		s       snap.ScheduleState
	}{
		"over the warning":      {night - 12*min, "", []string{"Mon 22:00:00 false", "Tue 06:00:00 true"}, snap.ScheduleState{Warnings: 1, Offs: 1, Ons: 1}},
		"over a late warning":   {night - 10*min - 30*sec, "", []string{"Mon 22:00:00 false", "Tue 06:00:00 true"}, snap.ScheduleState{Warnings: 1, Offs: 1, Ons: 1}},
		"between":               {night - 3*min, "", []string{"Mon 22:00:00 false", "Tue 06:00:00 true"}, snap.ScheduleState{Warnings: 1, Offs: 1, Ons: 1}},
		"over the off":          {night - 30*sec, "", []string{"Mon 22:00:00 false", "Tue 06:00:00 true"}, snap.ScheduleState{Warnings: 1, Offs: 1, Ons: 1}},
		"over the on":           {morning - 30*sec, "", []string{"Mon 22:00:00 false", "Tue 06:00:45 true"}, snap.ScheduleState{Warnings: 1, Offs: 1, Ons: 1}},
		"just after":            {night + sec, "", []string{"Mon 22:00:00 false", "Tue 06:00:00 true"}, snap.ScheduleState{Warnings: 1, Offs: 1, Ons: 1}},
		"the countdown is lost": {night - 3*min, "restart_aborts = true", []string{"Mon 22:00:00 false", "Tue 06:00:00 true"}, snap.ScheduleState{Warnings: 2, Offs: 1, Ons: 1}},
	} {
		t.Run(name, func(t *testing.T) {
			text := strings.Replace(week, "boot_takes", row.more+"\nboot_takes", 1)
			text = strings.NewReplacer("START", "2026-06-15T12:00:00+02:00", "CLOCK", "").Replace(text)
			r := playtest.Start(t, text).To(row.restart)
			r.Inject(`card = "restart"`)
			want := row.want
			if row.restart > night {
				want = want[1:]
			}
			compare(t, switched(r, 20*vtime.Hour), want...)
			got := *r.Site.Card.Schedule
			got.NextAt, got.Next = 0, ""
			if got != row.s || r.Site.Hosts[0].Cuts != 0 {
				t.Errorf("%+v, %d cuts", got, r.Site.Hosts[0].Cuts)
			}
		})
	}
}

// TestLateOffWarns: an entry that the card has not warned of when it should have acted
// warns then, and acts after the whole warning.
func TestLateOffWarns(t *testing.T) {
	r := scheduled(t, "2026-06-15T12:00:00+02:00", "", `"shutdown.schedule.night.warning" = "30s"
`)
	r.To(10*vtime.Hour - 40*sec).Inject(`card = "restart"`)
	compare(t, switched(r, 11*vtime.Hour), "Mon 22:01:05 false")
	if s := r.Site.Card.Schedule; s.Warnings != 1 || s.Offs != 1 {
		t.Errorf("%+v", s)
	}
	if r.Count("late: the card was away") != 1 {
		t.Errorf("%s", r.Trace())
	}
}

// TestLongAbsence: what a card missed that was away for longer than a restart takes is
// not made up for.
func TestLongAbsence(t *testing.T) {
	r := scheduled(t, "2026-06-15T12:00:00+02:00", "", "")
	r.To(10*vtime.Hour - 10*min).Inject(`card = "remove"`).To(10*vtime.Hour + 5*min).Inject(`card = "insert"`)
	compare(t, switched(r, 17*vtime.Hour))
}

// session is one session of a card with that memory up to that tick; it returns the
// run and what the card keeps.
func session(t *testing.T, text string, m *snap.Memory, until vtime.Tick, do ...string) *playtest.Run {
	t.Helper()
	p, err := scenario.Load("test.toml", []byte(text), scenario.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p.Card.Memory = m
	r := playtest.StartPlan(t, p)
	for _, entry := range do {
		r.To(r.Engine.Now() + min).Inject(entry)
	}
	return r.To(until)
}

// kept puts what r has kept into m, sections alone.
func kept(m *snap.Memory, r *playtest.Run) {
	if m.Sections == nil {
		m.Sections = map[string]json.RawMessage{}
	}
	list := []*snap.Keep{}
	for _, e := range r.Procs {
		if e.Kind == snap.EffectKeep {
			list = append(list, e.Keep)
		}
	}
	for _, k := range append(list, r.Engine.Farewell()[0]) {
		if k != nil {
			maps.Copy(m.Sections, k.Sections)
		}
	}
}

// TestScheduleOverSessions: an entry that acted in one session does not act again in
// one that begins earlier on the same day; the next day's does.
func TestScheduleOverSessions(t *testing.T) {
	text := strings.NewReplacer("START", "2026-06-15T12:00:00+02:00", "CLOCK", "").Replace(week)
	m := &snap.Memory{}
	r := session(t, text, m, 10*vtime.Hour+min)
	if s := r.Site.Card.Schedule; s.Offs != 1 {
		t.Fatalf("%+v", s)
	}
	kept(m, r)
	r = session(t, text, m, 0)
	compare(t, switched(r, 48*vtime.Hour), "Tue 22:00:00 false", "Wed 06:00:00 true")
	if s := r.Site.Card.Schedule; s.Offs != 1 || s.Ons != 2 { // that of Tuesday finds the output on
		t.Errorf("%+v", s)
	}
}

// TestClockOverSessions: a clock that was set by hand is as far ahead in the next
// session; one without a battery, or that a server keeps, begins as ever.
func TestClockOverSessions(t *testing.T) {
	for name, row := range map[string]struct {
		clock, servers string
		do             []string
		off            vtime.Tick
		from           string
	}{
		"by hand":           {`offset = "1m"`, "", []string{`clock = "7m"`}, 7 * min, "hand"},
		"by hand, twice":    {"", "", []string{`clock = "7m"`, `clock = "-2h"`}, -2 * vtime.Hour, "hand"},
		"it drifts":         {"drift_ppm = 500", "", []string{`clock = "7m"`}, 7*min + 1770, "hand"},
		"nobody":            {`offset = "1m"`, "", nil, min, "factory"},
		"without battery":   {"battery = false\nset = true", "", []string{`clock = "7m"`}, 0, "factory"},
		"never set but now": {"set = false", "", []string{`clock = "7m"`}, 7 * min, "hand"},
		"a server has it":   {`offset = "1m"`, one(""), []string{`clock = "7m"`, `settings = { "reach.time-interval" = "1m" }`}, min, "factory"},
	} {
		t.Run(name, func(t *testing.T) {
			text := strings.Replace(clocked, "CLOCK", row.clock, 1) + row.servers
			m := &snap.Memory{}
			kept(m, session(t, text, m, vtime.Hour, row.do...))
			r := session(t, text, m, 0)
			if got := vtime.Tick(off(r).Milliseconds()); got != row.off || r.Site.Card.Clock.From != row.from || !r.Site.Card.Clock.Set {
				t.Errorf("%v ahead, want %v; %+v", got, row.off, r.Site.Card.Clock)
			}
		})
	}
}

// TestMetersAreKeptWithTheJournal: what the meters showed when the mains failed is
// written down then; a killed process has it.
func TestMetersAreKeptWithTheJournal(t *testing.T) {
	r := session(t, fixed+"[[group]]\nname = \"rack\"\n[[host]]\nname = \"files\"\ngroups = [\"rack\"]\ndraw_w = 600\n[[at]]\ntime = \"5m\"\nsource = \"lost\"\n", &snap.Memory{}, 5*min)
	want := r.Site.Energy.Group(0, 5*min).Wh
	r.To(6 * min)
	got := 0.0
	for _, e := range r.Procs {
		if e.Kind == snap.EffectKeep && e.Keep.Sections["energy"] != nil {
			var k snap.KeptEnergy
			if err := json.Unmarshal(e.Keep.Sections["energy"], &k); err != nil {
				t.Fatal(err)
			}
			got = max(got, k.Of("rack"))
		}
	}
	if want < 49 || got < want || got > want+1 {
		t.Errorf("kept %.2f Wh, it showed %.2f Wh when the mains failed", got, want)
	}
}
