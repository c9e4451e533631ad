package expect

import "ridethrough/sim/internal/core/snap"

// lampVariables are the lamps on the card's front, which tell of it while nobody can
// sign in.
func lampVariables() (list []Variable) {
	patterns := wordsFrom(snap.Dark, snap.Double, snap.Pattern.String)
	for i, name := range []string{"work", "ups", "network", "alert"} {
		list = append(list, word("card.lamp_"+name, "pattern of the lamp "+name+" on the card", patterns,
			func(s *snap.Site) uint8 { return uint8(s.Lamps(s.Tick)[i].Pattern) }))
	}
	return list
}
