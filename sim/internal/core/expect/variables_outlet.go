package expect

import (
	"ridethrough/sim/internal/core/snap"
)

// groupVariables are those of an outlet group.
func groupVariables(name string, i int) []Variable {
	p := "groups." + name + "."
	return []Variable{
		yesNo(p+"on", "the outlets of the group are live",
			func(s *snap.Site) bool { return s.Groups[i].On }),
		number(p+"load_w", "watts that are drawn on it",
			func(s *snap.Site) float64 { return s.Groups[i].LoadW }),
		number(p+"off_s", "seconds that it has been off; while it is on, how long it was off the last time; 0 if it never was",
			func(s *snap.Site) float64 { return offS(s, &s.Groups[i]) }),
		word(p+"cause", "why it is off although the output is on: somebody ordered it, a rule shed it, it waits for charge, its delay runs", causeWords(),
			func(s *snap.Site) uint8 { return uint8(s.Groups[i].Cause) }),
		yesNo(p+"map_right", "what the card believes to be on it is what is on it",
			func(s *snap.Site) bool { return s.Groups[i].Right }),
		count(p+"believed_hosts", "hosts that the card believes to be on it",
			func(s *snap.Site) float64 { return believed(s, i) }),
	}
}

func causeWords() []string {
	var list []string
	for c := snap.CauseNone; c <= snap.CauseDelay; c++ {
		list = append(list, c.String())
	}
	return list
}

func offS(s *snap.Site, g *snap.Group) float64 {
	if g.On {
		return g.WasOff.Seconds()
	}
	return sinceS(s.Tick, g.OffAt)
}

func believed(s *snap.Site, i int) (n float64) {
	if s.Outlets.Roster == nil {
		return 0
	}
	for k := range s.Outlets.Roster.Hosts {
		if s.Outlets.Roster.Hosts[k].Groups&(1<<i) != 0 {
			n++
		}
	}
	return n
}

// outletVariables are those of all outlets together.
func outletVariables() []Variable {
	return []Variable{
		yesNo("outlets.locked", "switching from remote is locked out at the unit",
			func(s *snap.Site) bool { return s.Outlets.Locked }),
		yesNo("ups.awaits_charge", "the output is off and comes on with enough charge",
			func(s *snap.Site) bool { return s.UPS.AwaitsCharge }),
		number("ups.peak_pct", "highest load of the output so far in percent of the rating, inrush and all",
			func(s *snap.Site) float64 { return s.PeakPct }),
	}
}
