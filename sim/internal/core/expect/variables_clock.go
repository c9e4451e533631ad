package expect

import (
	"ridethrough/sim/internal/core/snap"
)

// clockVariables are about the card's clock.
func clockVariables() []Variable {
	return []Variable{
		number("card.clock_off_s", "by how many seconds the card's clock is ahead of the true date, negative behind",
			func(s *snap.Site) float64 {
				return float64(s.Card.Clock.Stamp(s.Tick)-snap.StampOf(s.Start)-snap.Stamp(s.Tick)) / 1000
			}),
		yesNo("card.clock_set", "the card's clock was set since it last had no supply",
			func(s *snap.Site) bool { return s.Card.Clock.Set }),
		number("card.local_hour", "hour of the day by the card's clock and zone, 0 to less than 24",
			func(s *snap.Site) float64 {
				t := s.Card.Date(s.Tick)
				return float64(t.Hour()) + float64(t.Minute()*60+t.Second())/3600
			}),
		count("schedule.warnings", "times that the schedule has warned that it will switch off",
			func(s *snap.Site) float64 { return float64(scheduled(s).Warnings) }),
		count("schedule.offs", "times that the schedule was due to switch off",
			func(s *snap.Site) float64 { return float64(scheduled(s).Offs) }),
		count("schedule.ons", "times that the schedule was due to switch on",
			func(s *snap.Site) float64 { return float64(scheduled(s).Ons) }),
		count("schedule.tests", "times that the schedule was due to test the battery",
			func(s *snap.Site) float64 { return float64(scheduled(s).Tests) }),
		yesNo("schedule.waits", "the schedule waits for the clock to be set",
			func(s *snap.Site) bool { return scheduled(s).Waits }),
		count("card.time_servers_believed", "time servers that the card's clock goes by",
			func(s *snap.Site) float64 { return float64(trusted(s.Card.Time)) }),
	}
}

func scheduled(s *snap.Site) snap.ScheduleState {
	if s.Card.Schedule == nil {
		return snap.ScheduleState{}
	}
	return *s.Card.Schedule
}

func trusted(t *snap.TimeState) (n int) {
	if t == nil {
		return 0
	}
	for i := range t.Servers {
		if t.Servers[i].Trust == snap.TrustTaken || t.Servers[i].Trust == snap.TrustAgrees {
			n++
		}
	}
	return n
}
