package setting

import (
	"fmt"
	"strings"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func init() {
	declare(Upkeep,
		atOnce(upkept(whole("upkeep.journal.events", "entries of the journal of events",
			"How many entries the journal of supply, unit and surroundings keeps. When it is full each new one takes the oldest with it.",
			"", snap.LeastJournal, snap.MostJournal, events))),
		atOnce(upkept(whole("upkeep.journal.system", "entries of the journal of the card",
			"How many entries the journal of the card and its users keeps.", "", snap.LeastJournal, snap.MostJournal, system))),
		atOnce(dataInterval()),
		atOnce(upkept(whole("upkeep.data.entries", "entries of the data log", "How many entries the data log keeps.",
			"", snap.LeastData, snap.MostData, dataEntries))),
		atOnce(dataColumns()),
		atOnce(leastBad()),
		atOnce(replaced()),
		atOnce(upkept(whole("upkeep.battery.packs", "battery packs", "How many battery packs the unit has, as counted when they were fitted.",
			"", 1, 100, packs))),
		atOnce(life()),
	)
}

func events(s *snap.Settings, _ int) *int      { return &s.Upkeep.Events }
func system(s *snap.Settings, _ int) *int      { return &s.Upkeep.System }
func dataEntries(s *snap.Settings, _ int) *int { return &s.Upkeep.DataEntries }
func packs(s *snap.Settings, _ int) *int       { return &s.Upkeep.Packs }

// life is how long a battery is planned to serve.
func life() *Setting {
	return upkept(orNone(whole("upkeep.battery.life", "planned life of the battery",
		"How many years after its replacement the battery is to be replaced again. From alerts.expiry-days before that day on the card warns once a day. Common practice for valve-regulated lead-acid in a unit of this size is 3 to 5 years, and half of it for every 10 K that it is warmer than 20 to 25 degrees.",
		"years", 0, 30, func(s *snap.Settings, _ int) *int { return &s.Upkeep.Life }), "off",
		func(s *snap.Settings, _ int) bool { return unfolded(s).Upkeep.Life == 0 }))
}

// upkept has x find its place, which is not there while all of it is as the factory
// has it. What is read is never changed: it may be shared.
func upkept(x *Setting) *Setting {
	get, set := x.get, x.set
	x.get = func(s *snap.Settings, i int) string { return get(unfolded(s), i) }
	x.set = func(s *snap.Settings, i int, v string) error {
		u := unfolded(s)
		if err := set(u, i, v); err != nil {
			return err
		}
		s.SetUpkeep(*u.Upkeep)
		return nil
	}
	return x
}

func unfolded(s *snap.Settings) *snap.Settings {
	u := s.Upkept()
	return &snap.Settings{Upkeep: &u}
}

// Bounds of the data log's interval. More often than that is for instruments.
const (
	leastInterval = 10 * vtime.Second
	mostInterval  = 24 * vtime.Hour
)

func dataInterval() *Setting {
	return upkept(orOff(span("upkeep.data.every", "interval of the data log",
		"How often the card logs its readings. Off at first. What happens between two entries shows in the journal alone.",
		leastInterval, mostInterval, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Upkeep.DataEvery }),
		func(s *snap.Settings) *vtime.Tick { return &s.Upkeep.DataEvery }))
}

// dataColumns are what the data log holds; the settings keep what it leaves out.
func dataColumns() *Setting {
	words := strings.Join(snap.DataQuantityWords(), ", ")
	return upkept(&Setting{
		Path: "upkeep.data.columns", Label: "columns of the data log",
		Help:  "What the data log holds beside number, date and source; input_v and output_v of each line, probes of each probe what it measures. What is not among them is not logged, and cannot be had afterwards.",
		Takes: "all, or words with commas between them: " + words,
		get:   func(s *snap.Settings, _ int) string { return (snap.EveryQuantity &^ s.Upkeep.DataLeft).String() },
		set: func(s *snap.Settings, _ int, v string) error {
			set, wrong := snap.DataSetOf(strings.ToLower(v))
			if set == 0 {
				return fmt.Errorf("%q: expected all, or some of %s", wrong, words)
			}
			s.Upkeep.DataLeft = snap.EveryQuantity &^ set
			return nil
		},
	})
}

// leastBad is from what time on an input out of tolerance counts.
func leastBad() *Setting {
	return upkept(spanMS("upkeep.input.least-time", "least time of a counted dip",
		"How long the input has to be out of tolerance before the unit counts it (upsInputLineBads) and raises the alarm input_bad, with journal and notifications. 0s: at once, every time. The unit protects its load as fast as ever, and battery operation is told in any case. IEEE 1159 calls what lasts up to 30 cycles (0.6 s at 50 Hz) instantaneous, up to 3 s momentary, up to 1 min temporary. Who takes battery operation without input_bad for a self test waits for so much longer.",
		0, vtime.Minute, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Upkeep.LeastBad }))
}

// orOff is a span that may be off, which is 0 in the settings.
func orOff(x *Setting, at func(*snap.Settings) *vtime.Tick) *Setting {
	return orWord(x, "off", func(s *snap.Settings, _ int) bool { return *at(s) == 0 }, func(s *snap.Settings, _ int) error {
		*at(s) = 0
		return nil
	})
}

// orNone is a number of which 0 has a word of its own.
func orNone(x *Setting, word string, none func(*snap.Settings, int) bool) *Setting {
	set := x.set
	return orWord(x, word, none, func(s *snap.Settings, i int) error { return set(s, i, "0") })
}

// orWord has x take a word too: it is shown where is holds, and put is what it sets.
func orWord(x *Setting, word string, is func(*snap.Settings, int) bool, put func(*snap.Settings, int) error) *Setting {
	get, set := x.get, x.set
	x.Takes += ", or " + word
	x.get = func(s *snap.Settings, i int) string {
		if is(s, i) {
			return word
		}
		return get(s, i)
	}
	x.set = func(s *snap.Settings, i int, v string) error {
		if strings.EqualFold(v, word) {
			return put(s, i)
		}
		if set(s, i, v) != nil {
			return fmt.Errorf("%q: expected %s", v, x.Takes)
		}
		return nil
	}
	return x
}

// replaced is a date without a time: nobody knows a battery to the minute.
func replaced() *Setting {
	const takes = "a date such as 2026-03-02, or never"
	return upkept(&Setting{
		Path: "upkeep.battery.replaced", Label: "battery last replaced",
		Help:  "When all battery packs were last replaced. After that, health-reset has the unit forget the old ones.",
		Takes: takes,
		get: func(s *snap.Settings, _ int) string {
			if s.Upkeep.Replaced == "" {
				return "never"
			}
			return s.Upkeep.Replaced
		},
		set: func(s *snap.Settings, _ int, v string) error {
			if strings.EqualFold(v, "never") {
				s.Upkeep.Replaced = ""
				return nil
			}
			day, err := time.Parse(time.DateOnly, v)
			if err != nil || day.Year() < 1990 {
				return fmt.Errorf("%q: expected %s", v, takes)
			}
			s.Upkeep.Replaced = v
			return nil
		},
	})
}
