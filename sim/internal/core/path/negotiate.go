package path

import "ridethrough/sim/internal/core/snap"

// Agreement is what the two ends of a link come to.
type Agreement struct {
	Mbit               int // 0: no link
	CardHalf, PortHalf bool
}

// Differ says whether one end works in half duplex and the other in full.
func (a Agreement) Differ() bool { return a.Mbit > 0 && a.CardHalf != a.PortHalf }

// Negotiate is what a card and a switch's port with those modes come to. Two that
// negotiate take the best that both have (IEEE 802.3 annex 28B.3). One alone that does
// finds the speed of the other by its signal and takes half duplex, whatever the other
// has (parallel detection, IEEE 802.3 clause 28.2.3.1). Two that do not have a link if
// their speeds are the same, each with the duplex that it was given.
func Negotiate(card, port snap.LinkMode) Agreement {
	cardMbit, cardHalf, cardFixed := card.Fixed()
	portMbit, portHalf, portFixed := port.Fixed()
	switch {
	case cardFixed && portFixed && cardMbit != portMbit:
		return Agreement{}
	case cardFixed && !portFixed:
		return Agreement{Mbit: cardMbit, CardHalf: cardHalf, PortHalf: true}
	case portFixed && !cardFixed:
		return Agreement{Mbit: portMbit, CardHalf: true, PortHalf: portHalf}
	}
	return Agreement{Mbit: cardMbit, CardHalf: cardHalf, PortHalf: portHalf}
}
