package snap

import (
	"slices"
	"time"

	"ridethrough/sim/internal/core/schedule"
	"ridethrough/sim/internal/core/vtime"
)

// Schedule is what the card switches by itself, by its clock.
type Schedule struct {
	Entries  []ScheduleEntry
	Holidays []Holiday
}

// ScheduleEntry is one entry of the week.
type ScheduleEntry struct {
	Name string
	Days schedule.Days // none: it never acts
	At   schedule.Clock
	On   bool // what it does: on, or off
	// Test: it tests the battery and switches nothing; On, Group and Warn do not matter.
	Test  bool
	Group string     // outlet group; "": the whole output
	Warn  vtime.Tick // of off: how long before its hosts are told to stop
	// Holidays: it acts on holidays too.
	Holidays bool
	Skip     schedule.Date // a day on which it does not act; zero: none
}

// Holiday is days on which some entries do not act.
type Holiday struct {
	Name        string
	First, Last schedule.Date // Last may be zero: one day
}

// longestHoliday bounds the days of one holiday.
const longestHoliday = 62

func (s *Schedule) clone() Schedule {
	return Schedule{append([]ScheduleEntry(nil), s.Entries...), append([]Holiday(nil), s.Holidays...)}
}

// Days are all days of h.
func (h *Holiday) Days() (list []schedule.Date) {
	if h.First == (schedule.Date{}) {
		return nil
	}
	day := time.Date(h.First.Year, h.First.Month, h.First.Day, 12, 0, 0, 0, time.UTC)
	for range longestHoliday {
		d := schedule.DateOf(day)
		if list = append(list, d); h.Last == (schedule.Date{}) || d == h.Last {
			break
		}
		day = day.AddDate(0, 0, 1)
	}
	return list
}

// Rule is when the i-th entry acts.
func (s *Schedule) Rule(i int) schedule.Rule {
	e := &s.Entries[i]
	r := schedule.Rule{Days: e.Days, At: e.At}
	if e.Skip != (schedule.Date{}) {
		r.Except = append(r.Except, e.Skip)
	}
	if !e.Holidays {
		for k := range s.Holidays {
			r.Except = append(r.Except, s.Holidays[k].Days()...)
		}
	}
	return r
}

// Planned is one time at which an entry acts.
type Planned struct {
	Entry *ScheduleEntry
	At    time.Time
}

// Plan is what s does after from and until that time, in order.
func (s *Schedule) Plan(from, until time.Time) (list []Planned) {
	for i := range s.Entries {
		rule := s.Rule(i)
		for at, ok := rule.Next(from); ok && !at.After(until); at, ok = rule.Next(at) {
			list = append(list, Planned{&s.Entries[i], at})
		}
	}
	slices.SortStableFunc(list, func(a, b Planned) int { return a.At.Compare(b.At) })
	return list
}

// What names what e switches, or tests.
func (e *ScheduleEntry) What() string {
	switch {
	case e.Test:
		return "battery"
	case e.Group == "":
		return "output"
	}
	return "group " + e.Group
}

// Does is "on", "off" or "test".
func (e *ScheduleEntry) Does() string {
	switch {
	case e.Test:
		return "test"
	case e.On:
		return "on"
	}
	return "off"
}

// Warns says whether e goes through a warning before it acts.
func (e *ScheduleEntry) Warns() bool { return !e.On && !e.Test }

// ScheduleState is how the schedule stands. It never changes once it is in a [Card].
type ScheduleState struct {
	Waits  bool       // for the clock to be set
	NextAt vtime.Tick // when it acts or warns next; Never
	Next   string     // entry that does
	// Warnings, Offs, Ons and Tests are counted since the agent's first start.
	Warnings, Offs, Ons, Tests int
}
