package expect

import "ridethrough/sim/internal/core/snap"

func supplyVariables() []Variable {
	return []Variable{
		number("t_s", "seconds since the start of the scenario",
			func(s *snap.Site) float64 { return s.Tick.Seconds() }),
		number("source.volts", "true RMS volts of the supply, of line 1",
			func(s *snap.Site) float64 { return s.Feed.Volts }),
		number("source.hz", "true frequency of the supply",
			func(s *snap.Site) float64 { return s.Feed.Hz }),
		yesNo("source.good", "the supply is within the unit's input window",
			func(s *snap.Site) bool { return s.Feed.Good }),
		word("source.switch", "where the changeover switch stands", switchWords(),
			func(s *snap.Site) uint8 { return uint8(s.Supply.Switch) }),
		word("source.generator", "where the standby generator is", generatorWords(),
			func(s *snap.Site) uint8 { return uint8(s.Supply.Generator) }),
		number("source.generator_pct", "load of the generator in percent of its rating, 0 while it stands",
			func(s *snap.Site) float64 { return s.Supply.LoadPct }),
		count("source.events", "voltage events of the supply by IEEE 1159 that have ended",
			func(s *snap.Site) float64 { return float64(s.Supply.Events) }),
		count("source.not_borne", "those of them that equipment on the ITI curve does not bear",
			func(s *snap.Site) float64 { return float64(s.Supply.NotBorne) }),
	}
}

func roomVariables() []Variable {
	return []Variable{
		number("room.temp_c", "true temperature of the room in degrees Celsius",
			func(s *snap.Site) float64 { return s.Room.TempC }),
		number("room.humidity_pct", "true relative humidity of the room",
			func(s *snap.Site) float64 { return s.Room.HumidityPct }),
		number("room.heat_w", "heat that goes into the room, in watts",
			func(s *snap.Site) float64 { return s.Room.HeatW }),
		number("room.cooling_w", "heat that the cooling takes away, in watts",
			func(s *snap.Site) float64 { return s.Room.CoolingW }),
	}
}

// noProbe is what the card knows of a probe that it was not told of, or not by that
// name any more.
var noProbe = snap.Probe{State: snap.ProbeUnpaired}

func probeVariables(name string) []Variable {
	p := "probes." + name + "."
	of := func(s *snap.Site) *snap.Probe {
		for i := range s.Probes.List[:s.Probes.Count] {
			if s.Probes.List[i].Name == name {
				return &s.Probes.List[i]
			}
		}
		return &noProbe
	}
	return []Variable{
		word(p+"state", "how its reading stands to its limits, the worst of all that is watched. The card finds it by its name", probeWords(),
			func(s *snap.Site) uint8 { return uint8(of(s).State) }),
		number(p+"temp_c", "temperature that it shows, in degrees Celsius",
			func(s *snap.Site) float64 { return of(s).TempC }),
		number(p+"humidity_pct", "relative humidity that it shows",
			func(s *snap.Site) float64 { return of(s).HumidityPct }),
		number(p+"rise_k", "how much its temperature is above the least of the time that is set for its rise",
			func(s *snap.Site) float64 { return of(s).RiseK }),
		count(p+"socket", "socket of the card that it is in, 0 if it is in none",
			func(s *snap.Site) float64 { return float64(of(s).Socket) }),
		count(p+"alerts", "times that something of it got worse, or that it was lost",
			func(s *snap.Site) float64 { return float64(of(s).Alerts) }),
		count(p+"clears", "times that something of it became normal again, or that it came back",
			func(s *snap.Site) float64 { return float64(of(s).Clears) }),
	}
}

func contactVariables(name string) []Variable {
	return []Variable{
		word("contacts."+name+".state", "what the card makes of the contact of that name; lost too if it was not told of it", contactWords(),
			func(s *snap.Site) uint8 {
				if r := s.Outlets.Roster; r != nil {
					for i := range r.Contacts {
						if r.Contacts[i].Name == name {
							return uint8(s.Contacts[i])
						}
					}
				}
				return uint8(snap.ContactLost)
			}),
	}
}
