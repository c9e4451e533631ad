package expect

import (
	"math"

	"ridethrough/sim/internal/core/snap"
)

func upkeepVariables() []Variable {
	lost := func(k snap.JournalKind) func(*snap.Site) float64 {
		return func(s *snap.Site) float64 {
			_, lost := s.Card.Entries(k)
			return float64(lost)
		}
	}
	return []Variable{
		count("journal.events_lost", "entries of the journal of supply, unit and surroundings for which there was no more room",
			lost(snap.JournalEvents)),
		count("journal.system_lost", "entries of the journal of the card and its users for which there was no more room",
			lost(snap.JournalSystem)),
		count("card.battery_packs", "battery packs as they were entered (upkeep.battery.packs), which is what the card shows",
			func(s *snap.Site) float64 { return float64(s.Card.Settings.Upkept().Packs) }),
		count("data_log.entries", "readings that the card has logged so far and still keeps",
			func(s *snap.Site) float64 { kept, _ := s.Card.LoggedData(); return float64(len(kept)) }),
		number("data_log.least_input_v", "lowest input voltage of any line in those readings, -1 if none of them has one",
			leastLogged),
		number("energy.kwh", "what the meters of the outlet groups have counted since their last reset",
			func(s *snap.Site) float64 { return used(s).Wh / 1000 }),
		number("energy.hour_w", "what they show as the average of the last hour, in watts",
			func(s *snap.Site) float64 { return used(s).HourW }),
	}
}

// used is what all meters show together.
func used(s *snap.Site) snap.Used {
	if s.Energy == nil {
		return snap.Used{}
	}
	return s.Energy.Total(s.Tick)
}

// leastLogged is the lowest input voltage that the data log has, in volts, or -1.
func leastLogged(s *snap.Site) float64 {
	kept, _ := s.Card.LoggedData()
	least := int32(math.MaxInt32)
	for i := range kept {
		for _, v := range kept[i].InputV[:s.Input.Count] {
			if v != snap.NoReading {
				least = min(least, v)
			}
		}
	}
	if least == math.MaxInt32 {
		return -1
	}
	return float64(least) / 10
}
