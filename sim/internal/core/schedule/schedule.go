package schedule

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Days is a set of days of the week, one bit each, bit 0 for Sunday as in
// [time.Weekday].
type Days uint8

// Everyday is all days of the week.
const Everyday Days = 1<<7 - 1

var dayNames = []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}

// inOrder are the days as people say them.
var inOrder = []time.Weekday{1, 2, 3, 4, 5, 6, 0}

// Has says whether d is in the set.
func (s Days) Has(d time.Weekday) bool { return s&(1<<d) != 0 }

// String is the set as [ParseDays] reads it, for example "mon-fri".
func (s Days) String() string {
	var parts []string
	for i := 0; i < len(inOrder); i++ {
		if !s.Has(inOrder[i]) {
			continue
		}
		last := i
		for last+1 < len(inOrder) && s.Has(inOrder[last+1]) {
			last++
		}
		switch name := dayNames[inOrder[i]]; {
		case last-i > 1:
			parts = append(parts, name+"-"+dayNames[inOrder[last]])
			i = last
		default:
			parts = append(parts, name)
		}
	}
	return strings.Join(parts, ",")
}

// ParseDays reads days with commas or ranges: "sat,sun", "mon-fri".
func ParseDays(text string) (Days, error) {
	var s Days
	for _, part := range strings.Split(strings.ToLower(strings.ReplaceAll(text, " ", "")), ",") {
		from, to, ranged := strings.Cut(part, "-")
		if !ranged {
			to = from
		}
		a, b := slices.Index(dayNames, from), slices.Index(dayNames, to)
		if a < 0 || b < 0 {
			return 0, fmt.Errorf("%q is no day: expected days such as mon-fri or sat,sun", part)
		}
		for d := a; ; d = (d + 1) % 7 {
			s |= 1 << d
			if d == b {
				break
			}
		}
	}
	return s, nil
}

// Clock is a time of the day in minutes after midnight, 0 to 1439.
type Clock int

// String is hh:mm.
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// ParseClock reads hh:mm from 00:00 to 23:59.
func ParseClock(text string) (Clock, error) {
	t, err := time.Parse("15:04", strings.TrimSpace(text))
	if err != nil {
		return 0, fmt.Errorf("%q is no time of the day: expected hh:mm from 00:00 to 23:59", text)
	}
	return Clock(t.Hour()*60 + t.Minute()), nil
}

// Date is a day of the calendar.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// DateOf is the day of t in the zone that t has.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}

// String is yyyy-mm-dd.
func (d Date) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day) }

// ParseDate reads yyyy-mm-dd.
func ParseDate(text string) (Date, error) {
	t, err := time.Parse(time.DateOnly, strings.TrimSpace(text))
	if err != nil {
		return Date{}, fmt.Errorf("%q is no date: expected yyyy-mm-dd", text)
	}
	return DateOf(t), nil
}

// Rule says when something happens: at a time of the day on some days of the week,
// but on none of the dates in Except.
type Rule struct {
	Days   Days
	At     Clock
	Except []Date
}

// horizon bounds how far ahead Next looks, in days: beyond a year of exceptions
// nobody has planned.
const horizon = 400

// Next is the first time after t at which the rule acts, in the zone of t; ok is
// false if there is none within a year.
func (r *Rule) Next(t time.Time) (at time.Time, ok bool) {
	for i := -1; i < horizon; i++ { // the day before: a change of the zone may push an entry past midnight
		day := DateOf(time.Date(t.Year(), t.Month(), t.Day()+i, 12, 0, 0, 0, time.UTC))
		if !r.on(day) {
			continue
		}
		if at = Instant(day, r.At, t.Location()); at.After(t) {
			return at, true
		}
	}
	return time.Time{}, false
}

func (r *Rule) on(d Date) bool {
	weekday := time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC).Weekday()
	return r.Days.Has(weekday) && !slices.Contains(r.Except, d)
}

// Instant is when a clock of the zone first shows c on that day; where the clock
// skips c, when it does so.
func Instant(d Date, c Clock, zone *time.Location) time.Time {
	shown := time.Date(d.Year, d.Month, d.Day, 0, int(c), 0, 0, time.UTC) // as if the zone were UTC
	before, after := offset(shown.Add(-26*time.Hour), zone), offset(shown.Add(26*time.Hour), zone)
	var first time.Time
	for _, behind := range []time.Duration{max(before, after), min(before, after)} {
		t := shown.Add(-behind)
		if offset(t, zone) == behind && (first.IsZero() || t.Before(first)) {
			first = t
		}
	}
	if first.IsZero() {
		first = change(shown.Add(-max(before, after)), shown.Add(-min(before, after)), zone)
	}
	return first.In(zone)
}

// offset is how far the zone is ahead of UTC at t.
func offset(t time.Time, zone *time.Location) time.Duration {
	_, seconds := t.In(zone).Zone()
	return time.Duration(seconds) * time.Second
}

// change is when the offset of the zone changes between from and to.
func change(from, to time.Time, zone *time.Location) time.Time {
	start := offset(from, zone)
	for to.Sub(from) > time.Second {
		mid := from.Add(to.Sub(from) / 2).Truncate(time.Second)
		if !mid.After(from) {
			break
		}
		if offset(mid, zone) == start {
			from = mid
		} else {
			to = mid
		}
	}
	return to
}
