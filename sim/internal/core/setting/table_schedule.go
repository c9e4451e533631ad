package setting

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/schedule"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const switchesAlone = "the schedule switches loads off and on while nobody watches. Whoever works on what it feeds has to lock out switching at the unit first."

const testsAlone = switchesAlone + " A test puts the load on the battery: if that fails, or the mains do meanwhile, the load may be lost."

const switchesAnyway = "what it leaves out stays as it is: off where people count on it, or live where somebody works."

func init() {
	l := list("shutdown.schedule", "schedule entry",
		"Switches the output or a group off or on, or tests the battery, once on each of its days, by the card's clock and zone.", 16,
		func(s *snap.Settings) *[]snap.ScheduleEntry { return &s.Schedule.Entries },
		func(e *snap.ScheduleEntry) *string { return &e.Name },
		func() snap.ScheduleEntry { return snap.ScheduleEntry{Warn: 10 * vtime.Minute, Holidays: true} },
		cautioned(switchesAlone, weekDays()), cautioned(switchesAlone, clockTime()),
		cautioned(testsAlone, scheduleDoes()),
		cautioned(switchesAlone, scheduleTarget()),
		cautioned("hosts that need longer to stop than this lose their power while they work.", span("warning", "warning", "Of off: how long before it the countdown begins and hosts are told to stop.", 0, 2*vtime.Hour,
			func(s *snap.Settings, i int) *vtime.Tick { return &s.Schedule.Entries[i].Warn })),
		cautioned(switchesAlone, yesNo("holidays", "acts on holidays", "Whether it acts on the days in shutdown.holiday too.",
			func(s *snap.Settings, i int) *bool { return &s.Schedule.Entries[i].Holidays })),
		cautioned(switchesAnyway, date("skip", "left out on", "One day on which it does not act, such as a night of works.",
			func(s *snap.Settings, i int) *schedule.Date { return &s.Schedule.Entries[i].Skip })),
	)
	l.AtOnce = true
	h := list("shutdown.holiday", "holiday", "Days on which those entries of the schedule do not act that do not act on holidays.", 32,
		func(s *snap.Settings) *[]snap.Holiday { return &s.Schedule.Holidays },
		func(h *snap.Holiday) *string { return &h.Name },
		func() snap.Holiday { return snap.Holiday{} },
		cautioned(switchesAnyway, date("first", "first day", "The day, or the first of several.", func(s *snap.Settings, i int) *schedule.Date { return &s.Schedule.Holidays[i].First })),
		cautioned(switchesAnyway, date("last", "last day", "The last of several, at most 62; none: one day.", func(s *snap.Settings, i int) *schedule.Date { return &s.Schedule.Holidays[i].Last })),
	)
	h.AtOnce = true
	declare(Shutdown, l, h)
	together = append(together, scheduleHolds)
}

func weekDays() *Setting {
	return &Setting{
		Path: "days", Label: "days", Help: "Days of the week on which it acts; none: it never does.", Takes: "days such as mon-fri or sat,sun, or none",
		get: func(s *snap.Settings, i int) string {
			if d := s.Schedule.Entries[i].Days; d != 0 {
				return d.String()
			}
			return "none"
		},
		set: func(s *snap.Settings, i int, v string) error {
			if strings.ToLower(v) == "none" || v == "" || v == "-" {
				s.Schedule.Entries[i].Days = 0
				return nil
			}
			d, err := schedule.ParseDays(v)
			if err == nil {
				s.Schedule.Entries[i].Days = d
			}
			return err
		},
	}
}

func clockTime() *Setting {
	return &Setting{
		Path: "at", Label: "time", Help: "Time of the day by the card's clock. In the night in which the clocks go forward a time in the missing hour is when they do; in the other night the first of two counts.",
		Takes: "a time of the day from 00:00 to 23:59",
		get:   func(s *snap.Settings, i int) string { return s.Schedule.Entries[i].At.String() },
		set: func(s *snap.Settings, i int, v string) error {
			c, err := schedule.ParseClock(v)
			if err == nil {
				s.Schedule.Entries[i].At = c
			}
			return err
		},
	}
}

// scheduleDoes is what an entry does.
func scheduleDoes() *Setting {
	words := []string{"off", "on", "test"}
	return &Setting{
		Path: "do", Label: "does", Words: words, Takes: "one of " + strings.Join(words, ", "),
		Help: "off goes through a countdown, so that hosts can stop first. on waits for the mains and for the charge that the restart needs. test is the quick test of the battery, which the unit leaves out below 90 % charge and on battery.",
		get:  func(s *snap.Settings, i int) string { return s.Schedule.Entries[i].Does() },
		set: func(s *snap.Settings, i int, v string) error {
			v = strings.ToLower(v)
			if !slices.Contains(words, v) {
				return fmt.Errorf("%q: expected one of %s", v, strings.Join(words, ", "))
			}
			e := &s.Schedule.Entries[i]
			e.On, e.Test = v == "on", v == "test"
			return nil
		},
	}
}

func scheduleTarget() *Setting {
	return &Setting{
		Path: "what", Label: "what", Help: "The whole output, or the name of one outlet group; a test is of the battery, whatever stands here.", Takes: "output, or the name of an outlet group",
		get: func(s *snap.Settings, i int) string {
			if g := s.Schedule.Entries[i].Group; g != "" {
				return g
			}
			return "output"
		},
		set: func(s *snap.Settings, i int, v string) error {
			if v == "output" {
				s.Schedule.Entries[i].Group = ""
				return nil
			}
			if !hasGroup(s, v) {
				return fmt.Errorf("%q: expected output, or the name of an outlet group", v)
			}
			s.Schedule.Entries[i].Group = v
			return nil
		},
	}
}

func hasGroup(s *snap.Settings, name string) bool {
	for i := range s.Groups {
		if s.Groups[i].Name == name {
			return true
		}
	}
	return false
}

func date(path, label, help string, at func(*snap.Settings, int) *schedule.Date) *Setting {
	return &Setting{
		Path: path, Label: label, Help: help, Takes: "a date as yyyy-mm-dd, or none",
		get: func(s *snap.Settings, i int) string {
			if d := *at(s, i); d != (schedule.Date{}) {
				return d.String()
			}
			return "none"
		},
		set: func(s *snap.Settings, i int, v string) error {
			if strings.ToLower(v) == "none" || v == "" || v == "-" {
				*at(s, i) = schedule.Date{}
				return nil
			}
			d, err := schedule.ParseDate(v)
			if err == nil {
				*at(s, i) = d
			}
			return err
		},
	}
}

func scheduleHolds(s *snap.Settings) error {
	for i := range s.Schedule.Entries {
		if g := s.Schedule.Entries[i].Group; g != "" && !hasGroup(s, g) {
			return fmt.Errorf("shutdown.schedule.%s.what: there is no outlet group %q", s.Schedule.Entries[i].Name, g)
		}
	}
	for i := range s.Schedule.Holidays {
		h := &s.Schedule.Holidays[i]
		if days := h.Days(); h.Last != (schedule.Date{}) && (len(days) == 0 || days[len(days)-1] != h.Last) {
			return fmt.Errorf("shutdown.holiday.%s.last: expected a day after the first, at most 61 later", h.Name)
		}
	}
	return nil
}
