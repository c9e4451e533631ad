package card_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// sundays is a card that tests the battery on Sundays at 02:00, 14 h after its start.
const sundays = `
title = "a test by the calendar"
start = 2026-06-13T12:00:00Z
run_for = "720h"
[battery]
block = "agm-12v-9ah"
[[host]]
name = "db"
draw_w = 300
[card]
address = "192.0.2.10/24"
[card.settings]
"shutdown.schedule.test.days" = "sun"
"shutdown.schedule.test.at" = "02:00"
"shutdown.schedule.test.do" = "test"
"shutdown.schedule.test.warning" = "30m"
`

// TestBatteryByTheSchedule: the quick test begins on its day, unless the unit has a
// reason against it, which the journal tells. It switches nothing and warns nobody.
func TestBatteryByTheSchedule(t *testing.T) {
	for name, row := range map[string]struct {
		before string // an hour before it is due
		tested bool
		left   string
	}{
		"as it should be":           {tested: true},
		"switching locked out":      {before: `remote_switching = "locked"`, tested: true},
		"not charged":               {before: `charge_pct = 20`, left: "battery test left out: a battery test needs a charge of 90 %"},
		"on battery":                {before: `source = "lost"`, left: "battery test left out: "},
		"no contact with the unit":  {before: `ups_link = "lost"`, left: "battery test refused: no contact to the unit"},
		"no contact, and none then": {before: `card = "remove"`},
	} {
		t.Run(name, func(t *testing.T) {
			r := playtest.Start(t, sundays).To(13*vtime.Hour + 30*min)
			if row.before != "" {
				r.Inject(row.before)
			}
			r.To(14 * vtime.Hour).Step()
			if tested := r.Site.Test.ID == snap.TestQuickBattery; tested != row.tested {
				t.Errorf("tested: %v; %+v", tested, r.Site.Test)
			}
			var told []string
			for _, e := range r.Site.Card.Journal {
				told = append(told, e.Text)
			}
			if all := strings.Join(told, "\n"); row.left != "" && !strings.Contains(all, row.left) || row.tested && !strings.Contains(all, "schedule test: battery test") {
				t.Errorf("journal:\n%s", all)
			}
			if k := r.Site.Card.Schedule; k != nil && k.Warnings+k.Offs+k.Ons != 0 {
				t.Errorf("%+v", k)
			}
		})
	}
}

// TestEverySunday: once a week, and a pass that pages nobody.
func TestEverySunday(t *testing.T) {
	r := playtest.Start(t, sundays).To(3*7*day - vtime.Hour)
	if k := r.Site.Card.Schedule; k.Tests != 3 || r.Site.Test.Result != snap.ResultPass || !r.Site.UPS.OutputOn {
		t.Errorf("%+v, %+v", k, r.Site.Test)
	}
	p := r.Site.Card.Settings.Schedule.Plan(r.Site.Card.Date(r.Site.Tick), r.Site.Card.Date(r.Site.Tick).AddDate(0, 0, 14))
	if len(p) != 2 || p[0].Entry.What()+" "+p[0].Entry.Does() != "battery test" {
		t.Errorf("%+v", p)
	}
}
