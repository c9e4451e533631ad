package card_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// week is a card in Central Europe with a night off from 22:00 to 06:00 on working
// days and a time on Sunday in the hour that the zone's changes are about. START is
// its beginning.
const week = `
title = "a week"
start = START
run_for = "720h"
[[host]]
name = "db"
draw_w = 300
stop_takes = "3m"
[card]
address = "192.0.2.10/24"
boot_takes = "75s"
[card.clock]
zone = "CET-1CEST,M3.5.0,M10.5.0/3"
CLOCK
[card.settings]
"shutdown.schedule.night.days" = "mon-fri"
"shutdown.schedule.night.at" = "22:00"
"shutdown.schedule.morning.days" = "tue-sat"
"shutdown.schedule.morning.at" = "06:00"
"shutdown.schedule.morning.do" = "on"
`

func scheduled(t *testing.T, start, clock, more string) *playtest.Run {
	return playtest.Start(t, strings.NewReplacer("START", start, "CLOCK", clock).Replace(week)+more)
}

// switched is when the output went off and on, by the card's date, up to a tick.
func switched(r *playtest.Run, until vtime.Tick) (list []string) {
	on := r.Site.UPS.OutputOn
	for r.Engine.Now() < until {
		r.Step()
		if r.Site.UPS.OutputOn != on {
			on = !on
			list = append(list, fmt.Sprintf("%s %v", r.Site.Card.Date(r.Site.Tick).Format("Mon 15:04:05"), on))
		}
	}
	return list
}

const day = 24 * vtime.Hour

// TestWeek: each entry once on its days; hosts have stopped before the output goes.
func TestWeek(t *testing.T) {
	r := scheduled(t, "2026-06-15T12:00:00+02:00", "", "") // a Monday
	got := switched(r, 7*day)
	want := []string{
		"Mon 22:00:00 false", "Tue 06:00:00 true", "Tue 22:00:00 false", "Wed 06:00:00 true", "Wed 22:00:00 false",
		"Thu 06:00:00 true", "Thu 22:00:00 false", "Fri 06:00:00 true", "Fri 22:00:00 false", "Sat 06:00:00 true",
	}
	compare(t, got, want...)
	if h := r.Site.Hosts[0]; h.Stops != 5 || h.Cuts != 0 || h.Starts != 5 {
		t.Errorf("%+v", h)
	}
	if s := r.Site.Card.Schedule; s.Offs != 5 || s.Ons != 5 || s.Warnings != 5 {
		t.Errorf("%+v", s)
	}
}

// TestNightsOfChange: directive 2000/84/EC: forward on 29 March 2026 at 02:00, back
// on 25 October at 03:00. A time in the missing hour is when the clocks change, one
// in the doubled hour its first time; each acts once.
func TestNightsOfChange(t *testing.T) {
	for start, want := range map[string][]string{
		"2026-03-28T12:00:00+01:00": {"Sun 03:00:00 false", "Sun 05:00:00 true"},
		"2026-10-24T12:00:00+02:00": {"Sun 02:30:00 false", "Sun 05:00:00 true"},
	} {
		r := scheduled(t, start, "", `
"shutdown.schedule.works.days" = "sun"
"shutdown.schedule.works.at" = "02:30"
"shutdown.schedule.end.days" = "sun"
"shutdown.schedule.end.at" = "05:00"
"shutdown.schedule.end.do" = "on"
`)
		compare(t, switched(r, 30*vtime.Hour), want...)
		if s := r.Site.Card.Schedule; s.Offs != 1 || s.Ons != 1 {
			t.Errorf("%s: %+v", start, s)
		}
	}
}

// TestScheduleWaitsForTheClock: in 1970 nothing acts, whatever the weekday was; once
// the clock is set the rest of the week does.
func TestScheduleWaitsForTheClock(t *testing.T) {
	r := scheduled(t, "2026-06-15T12:00:00+02:00", "set = false", "")
	if got := switched(r, 20*vtime.Hour); len(got) != 0 || !r.Site.Card.Schedule.Waits {
		t.Errorf("%q, %+v", got, r.Site.Card.Schedule)
	}
	r.Inject(`clock = "0s"`)
	compare(t, switched(r, 48*vtime.Hour), "Tue 22:00:00 false", "Wed 06:00:00 true")
}

// TestOverride: one night is left out, a holiday too for entries that keep it.
func TestOverride(t *testing.T) {
	r := scheduled(t, "2026-06-15T12:00:00+02:00", "", `
"shutdown.schedule.night.skip" = "2026-06-16"
"shutdown.schedule.morning.holidays" = "no"
"shutdown.holiday.feast.first" = "2026-06-19"
"shutdown.holiday.feast.last" = "2026-06-20"
`)
	compare(t, switched(r, 6*day), "Mon 22:00:00 false", "Tue 06:00:00 true", "Wed 22:00:00 false", "Thu 06:00:00 true", "Thu 22:00:00 false")
}

// TestOutages: across the off point the output stays off when the mains come back;
// across the on point it comes on with them, and the night after is as ever.
func TestOutages(t *testing.T) {
	r := scheduled(t, "2026-06-15T12:00:00+02:00", "", "")
	r.To(10*vtime.Hour - 5*min).Inject(`source = "lost"`).To(10*vtime.Hour + 5*min).Inject(`source = "normal"`)
	compare(t, switched(r, 17*vtime.Hour))
	r.Inject(`source = "lost"`)
	compare(t, switched(r, 20*vtime.Hour))
	r.Inject(`source = "normal"`)
	compare(t, switched(r, 44*vtime.Hour), "Tue 08:00:05 true", "Tue 22:00:00 false", "Wed 06:00:00 true")
	if h := r.Site.Hosts[0]; h.Cuts != 0 {
		t.Errorf("%+v", h)
	}
}

// TestSteps: an entry that was done is not done again when the clock goes back over
// it; one that the clock is moved over is not made up for.
func TestSteps(t *testing.T) {
	r := scheduled(t, "2026-06-15T12:00:00+02:00", "", "")
	r.To(10*vtime.Hour + min).Inject(`clock = "-30m"`)
	if r.To(12 * vtime.Hour); r.Site.Card.Schedule.Offs != 1 {
		t.Errorf("back: %+v", r.Site.Card.Schedule)
	}
	r = scheduled(t, "2026-06-15T12:00:00+02:00", "", "")
	r.To(9 * vtime.Hour).Inject(`clock = "2h"`)
	compare(t, switched(r, 17*vtime.Hour))
}

// TestLockedOut: a technician who works on it is safe from the schedule.
func TestLockedOut(t *testing.T) {
	r := scheduled(t, "2026-06-15T12:00:00+02:00", "", "")
	r.Inject(`remote_switching = "locked"`)
	compare(t, switched(r, day))
}

// TestGroupByTheSchedule: one group goes and comes back, and waits for the mains.
func TestGroupByTheSchedule(t *testing.T) {
	r := playtest.Start(t, `
title = "a group"
start = 2026-06-15T12:00:00Z
run_for = "48h"
[[group]]
name = "desks"
[[group]]
name = "rack"
[[host]]
name = "pc"
draw_w = 100
groups = ["desks"]
[[host]]
name = "db"
draw_w = 100
groups = ["rack"]
[card]
address = "192.0.2.10/24"
[card.settings]
"shutdown.schedule.off.days" = "mon"
"shutdown.schedule.off.at" = "20:00"
"shutdown.schedule.off.what" = "desks"
"shutdown.schedule.on.days" = "tue"
"shutdown.schedule.on.at" = "06:00"
"shutdown.schedule.on.do" = "on"
"shutdown.schedule.on.what" = "desks"
`).To(9 * vtime.Hour)
	if r.Site.Groups[0].On || !r.Site.Groups[1].On || r.Site.Hosts[0].Ended != "clean" || r.Site.Hosts[1].State != snap.HostRunning {
		t.Errorf("%+v %+v", r.Site.Groups, r.Site.Hosts)
	}
	r.To(18*vtime.Hour - min).Inject(`source = "lost"`).To(18*vtime.Hour + min)
	if r.Site.Groups[0].On {
		t.Error("it came on without mains")
	}
	if r.Inject(`source = "normal"`).To(19 * vtime.Hour); !r.Site.Groups[0].On {
		t.Error("it is off with the mains back")
	}
}

// TestPlanOfTwoWeeks: the dry list is what then happens.
func TestPlanOfTwoWeeks(t *testing.T) {
	r := scheduled(t, "2026-10-19T12:00:00+02:00", "", "")
	from := r.Site.Card.Date(0)
	var want []string
	for _, p := range r.Site.Card.Settings.Schedule.Plan(from, from.Add(14*24*time.Hour)) {
		want = append(want, fmt.Sprintf("%s %v", p.At.Format("Mon 15:04:05"), p.Entry.On))
	}
	compare(t, switched(r, 14*day), want...)
	if len(want) != 20 {
		t.Errorf("%d times", len(want))
	}
}
