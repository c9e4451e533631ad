package expect

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
)

// relayVariables are the relay outputs of the card by their number.
func relayVariables() (list []Variable) {
	for i := 1; i <= snap.MaxRelays; i++ {
		p := fmt.Sprintf("relay_%d.", i)
		of := func(s *snap.Site) snap.Relay { return s.Card.Relay(i) }
		list = append(list,
			yesNo(p+"closed", "the contact of this relay output is closed", func(s *snap.Site) bool { return of(s).Closed }),
			yesNo(p+"alarm", "it reports something, or is tested", func(s *snap.Site) bool { return of(s).Alarm }),
			count(p+"turns", "times that it moved", func(s *snap.Site) float64 { return float64(of(s).Turns) }))
	}
	return list
}
