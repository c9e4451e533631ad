package card_test

import (
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// logging is a card that logs its readings at EVERY, from START on.
const logging = `
title = "a log"
start = START
run_for = "720h"
[[host]]
name = "db"
draw_w = 300
[card]
address = "192.0.2.10/24"
boot_takes = "75s"
[card.settings]
"upkeep.data.every" = "EVERY"
[card.clock]
zone = "CET-1CEST,M3.5.0,M10.5.0/3"
CLOCK
`

func logs(t *testing.T, start, every, clock string) *playtest.Run {
	return playtest.Start(t, strings.NewReplacer("START", start, "EVERY", every, "CLOCK", clock).Replace(logging))
}

// logged are the times of the data log, and whether their numbers rise by one.
func logged(t *testing.T, r *playtest.Run) string {
	t.Helper()
	var list []string
	kept, _ := r.Site.Card.LoggedData()
	for i := range kept {
		list = append(list, r.Site.Card.DateOf(kept[i].At).Format("15:04:05.000"))
		if i > 0 && kept[i].Seq != kept[i-1].Seq+1 {
			t.Errorf("%d follows %d", kept[i].Seq, kept[i-1].Seq)
		}
	}
	return strings.ReplaceAll(strings.Join(list, " "), ".000", "")
}

// TestLogFollowsTheClock: entries have round dates by the card's own clock, whatever
// that is off and however it is moved; what it is moved over is left out, and the
// date of the last entry does not come twice.
func TestLogFollowsTheClock(t *testing.T) {
	for name, row := range map[string]struct {
		clock, order string
		want         string
	}{
		"right":        {"", "", "08:00:00 08:10:00 08:20:00 08:30:00"},
		"ahead":        {`offset = "2m20s"`, "", "08:00:00 08:10:00 08:20:00 08:30:00"},
		"fast":         {"drift_ppm = 500", "", "08:00:00 08:10:00 08:20:00 08:30:00"},
		"never set":    {"battery = false", "", "01:00:00 01:10:00 01:20:00 01:30:00"},
		"forward":      {"", `clock = "12m"`, "08:00:00 08:10:00 08:30:00 08:40:00"},
		"forward onto": {"", `clock = "7m"`, "08:00:00 08:10:00 08:20:00 08:30:00 08:40:00"},
		"back":         {"", `clock = "-12m"`, "08:00:00 08:10:00 08:20:00"},
		"far back":     {"", `clock = "-22m"`, "08:00:00 08:10:00 08:00:00 08:10:00"},
		"back a bit":   {"", `clock = "-3m1s"`, "08:00:00 08:10:00 08:20:00 08:30:00"},
		"restart":      {"", `card = "restart"`, "08:00:00 08:10:00 08:20:00 08:30:00"},
	} {
		t.Run(name, func(t *testing.T) {
			r := logs(t, "2026-03-02T07:57:00+01:00", "10m", row.clock).To(16 * min) // 08:13
			if row.order != "" {
				r.Inject(row.order)
			}
			if got := logged(t, r.To(37*min)); !strings.HasPrefix(got, row.want) {
				t.Errorf("logged %s\nwant   %s", got, row.want)
			}
		})
	}
}

// TestLogMissesWhatTheCardMisses: a card that boots when an entry is due has none,
// and does not make up for it at another time.
func TestLogMissesWhatTheCardMisses(t *testing.T) {
	r := logs(t, "2026-03-02T07:57:00+01:00", "10m", "").To(12*min + 30*sec) // 08:09:30
	r.Inject(`card = "restart"`)
	if got := logged(t, r.To(34*min)); got != "08:00:00 08:20:00 08:30:00" {
		t.Errorf("logged %s", got)
	}
}

// TestLogOverTheNightsOfChange: every hour of either night is logged once, and a
// daily entry stays at midnight.
func TestLogOverTheNightsOfChange(t *testing.T) {
	for name, row := range map[string]struct{ start, every, want string }{
		"hourly, forward": {"2026-03-29T00:30:00+01:00", "1h", "01:00:00 03:00:00 04:00:00 05:00:00"},
		"hourly, back":    {"2026-10-25T00:30:00+02:00", "1h", "01:00:00 02:00:00 02:00:00 03:00:00"},
		"daily, forward":  {"2026-03-28T23:30:00+01:00", "24h", "00:00:00 00:00:00 00:00:00"},
		"daily, back":     {"2026-10-24T23:30:00+02:00", "24h", "00:00:00 00:00:00 00:00:00"},
	} {
		t.Run(name, func(t *testing.T) {
			r := logs(t, row.start, row.every, "")
			n := vtime.Hour
			if row.every == "24h" {
				n = 24 * vtime.Hour
			}
			if got := logged(t, r.To(4*n)); !strings.HasPrefix(got, row.want) {
				t.Errorf("logged %s", got)
			}
		})
	}
}

// TestRound: the next multiple is later than what it is the next of, and round.
func TestRound(t *testing.T) {
	zone, err := vtime.Zone("CET-1CEST,M3.5.0,M10.5.0/3")
	if err != nil {
		t.Fatal(err)
	}
	k := snap.Clock{Zone: zone}
	for _, every := range []vtime.Tick{10 * sec, 7 * min, 90 * min, 24 * vtime.Hour} {
		s := snap.StampOf(time.Date(2026, 3, 27, 11, 22, 33, 0, time.UTC))
		for range 2000 {
			next := k.Round(s, every)
			_, ahead := k.In(next).Zone()
			wall := vtime.Tick(next) + vtime.Tick(ahead)*1000
			if next <= s || wall%every != 0 && !strings.Contains("2026-03-29 2026-10-25 2027-03-28", k.In(next).Format("2006-01-02")) {
				t.Fatalf("after %v comes %v", k.In(s), k.In(next))
			}
			s = next
		}
	}
}
