package schedule

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
)

// The zones by their rules (IEEE 1003.1): Central Europe, the east of the United
// States, New South Wales, Lord Howe Island (half an hour), and one that never changes.
var zones = []string{
	"CET-1CEST,M3.5.0,M10.5.0/3", "EST5EDT,M3.2.0,M11.1.0", "AEST-10AEDT,M10.1.0,M4.1.0/3", "<+1030>-10:30<+11>-11,M10.1.0,M4.1.0", "UTC0",
}

func zone(t interface{ Fatal(...any) }, rule string) *time.Location {
	z, err := vtime.Zone(rule)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// TestNightsOfChange: the dates are those of 2026 in Central Europe: forward on 29
// March at 02:00, back on 25 October at 03:00 (directive 2000/84/EC).
func TestNightsOfChange(t *testing.T) {
	z := zone(t, zones[0])
	for _, row := range []struct {
		day   string
		at    string
		want  string
		after string
	}{
		{"2026-03-29", "01:59", "2026-03-29T01:59:00+01:00", "before the change"},
		{"2026-03-29", "02:00", "2026-03-29T03:00:00+02:00", "at the change"},
		{"2026-03-29", "02:30", "2026-03-29T03:00:00+02:00", "in the missing hour"},
		{"2026-03-29", "03:00", "2026-03-29T03:00:00+02:00", "after it"},
		{"2026-10-25", "01:59", "2026-10-25T01:59:00+02:00", "before the change"},
		{"2026-10-25", "02:30", "2026-10-25T02:30:00+02:00", "in the doubled hour, the first time"},
		{"2026-10-25", "03:00", "2026-10-25T03:00:00+01:00", "after it"},
	} {
		day, _ := ParseDate(row.day)
		at, _ := ParseClock(row.at)
		if got := Instant(day, at, z).Format(time.RFC3339); got != row.want {
			t.Errorf("%s %s (%s): %s, want %s", row.day, row.at, row.after, got, row.want)
		}
	}
}

// TestOnceADay: over three years an entry acts once on each of its days, in order,
// in every zone.
func TestOnceADay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := zone(t, rapid.SampledFrom(zones).Draw(t, "zone"))
		r := Rule{Days: Days(rapid.IntRange(1, 127).Draw(t, "days")), At: Clock(rapid.IntRange(0, 1439).Draw(t, "at"))}
		now := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC).In(z)
		last, seen := Date{}, 0
		for now.Year() < 2028 {
			at, ok := r.Next(now)
			if !ok || !at.After(now) || !r.Days.Has(at.Weekday()) {
				t.Fatalf("after %v comes %v, %v", now, at, ok)
			}
			if DateOf(at) == last {
				t.Fatalf("twice on %v", last)
			}
			last, now = DateOf(at), at
			seen++
		}
		want := 0
		for day := time.Date(2025, 1, 1, 12, 0, 0, 0, time.UTC); day.Before(now); day = day.AddDate(0, 0, 1) {
			if r.Days.Has(day.Weekday()) {
				want++
			}
		}
		if d := seen - want; d < -2 || d > 2 {
			t.Fatalf("%d times on %d days", seen, want)
		}
	})
}

// TestInstantBySearch: the slow way, minute by minute, finds the same.
func TestInstantBySearch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := zone(t, rapid.SampledFrom(zones).Draw(t, "zone"))
		day := DateOf(time.Date(2026, 1, 1+rapid.IntRange(0, 364).Draw(t, "day"), 12, 0, 0, 0, time.UTC))
		at := Clock(rapid.IntRange(0, 1439).Draw(t, "at"))
		got := Instant(day, at, z)
		for s := time.Date(day.Year, day.Month, day.Day, 0, 0, 0, 0, time.UTC).Add(-15 * time.Hour); ; s = s.Add(time.Minute) {
			l := s.In(z)
			if DateOf(l) == day && l.Hour()*60+l.Minute() >= int(at) {
				if !s.Equal(got) {
					t.Fatalf("%v %v: %v, by search %v", day, at, got, l)
				}
				return
			}
		}
	})
}

func TestExceptions(t *testing.T) {
	z := zone(t, zones[0])
	holiday, _ := ParseDate("2026-12-25")
	r := Rule{Days: Everyday, At: 360, Except: []Date{holiday}}
	at, ok := r.Next(time.Date(2026, 12, 24, 6, 0, 0, 0, z))
	if !ok || at.Format(time.RFC3339) != "2026-12-26T06:00:00+01:00" {
		t.Errorf("%v", at)
	}
	if _, ok := (&Rule{At: 5}).Next(at); ok {
		t.Error("a rule without days acts")
	}
}

func TestWords(t *testing.T) {
	for text, want := range map[string]string{
		"mon-fri": "mon-fri", "sat,sun": "sat,sun", "Sun, Mon": "mon,sun", "mon,tue,wed": "mon-wed", "fri-mon": "mon,fri-sun", "mon-sun": "mon-sun", "wed": "wed",
	} {
		d, err := ParseDays(text)
		if err != nil || d.String() != want {
			t.Errorf("%q: %q, %v", text, d, err)
		}
	}
	for _, text := range []string{"", "monday", "mon-", "mon;tue", "-"} {
		if d, err := ParseDays(text); err == nil {
			t.Errorf("%q is %v", text, d)
		}
	}
	for text, want := range map[string]string{"00:00": "00:00", "7:05": "07:05", " 23:59 ": "23:59"} {
		if c, err := ParseClock(text); err != nil || c.String() != want {
			t.Errorf("%q: %v, %v", text, c, err)
		}
	}
	for _, text := range []string{"24:00", "7", "07:60", "", "-1:00"} {
		if c, err := ParseClock(text); err == nil {
			t.Errorf("%q is %v", text, c)
		}
	}
	if _, err := ParseDate("2026-02-30"); err == nil {
		t.Error("a day that is none")
	}
}
