package snap

// PathFault says why no packets pass between the card and another machine.
type PathFault uint8

// Faults on the way, the first that is met counts.
const (
	PathOpen          PathFault = iota
	PathCardDown                // the card does not run
	PathNoLink                  // the card's port has no link
	PathOtherVLAN               // the port at the other end drops the card's frames, or sends it none
	PathNoAddress               // the card has no address
	PathMaskWide                // the card takes it for a neighbour, and it is none
	PathNoGateway               // it is not in the card's network, and the card has no gateway
	PathGatewaySilent           // nobody forwards at the address of the gateway
	PathSwitchDead              // a switch on the way has no power or still starts
	PathPeerDown                // the machine is not there
	PathNoWayBack               // answers go elsewhere: the card's address is not of its network
	PathPeerStray               // answers go elsewhere: the other's mask or gateway is wrong
	PathFaults                  // how many there are
)

// String is a word for f; expectations use it.
func (f PathFault) String() string {
	return nameOf([]string{
		"open", "card-down", "no-link", "other-vlan", "no-address", "mask-too-wide", "no-gateway", "gateway-silent",
		"switch-dead", "peer-down", "no-way-back", "peer-stray",
	}, int(f))
}

// Tells is what the card itself can find out about f by looking for the other
// machine: one that does not answer looks the same whatever the reason.
func (f PathFault) Tells() string {
	switch f {
	case PathOpen:
		return "answers"
	case PathCardDown:
		return "the card does not run"
	case PathNoLink:
		return "the port has no link: look at the lead and at the switch at its other end"
	case PathOtherVLAN:
		return "no answer, and no other machine is heard either: compare the VLAN of the port (reach.vlan) with that of the switch's port"
	case PathNoAddress:
		return "the card has no address yet"
	case PathMaskWide:
		return "nobody answers to that address in the card's own network: it belongs there by the card's mask, so compare the mask with the address plan"
	case PathNoGateway:
		return "it is not in the card's own network, and the card has no gateway"
	case PathGatewaySilent:
		return "it is not in the card's own network, and nobody answers at the address of the gateway: compare the gateway with the address plan"
	}
	return "no answer: packets leave, and nothing comes back. Look at the switches on the way, at the other machine, and whether the card's address is one of its network"
}

// Network is the truth about the site's network.
type Network struct {
	Dead     uint64 // switches that forward nothing, a bit each
	Down     uint64 // peers that are not there, a bit each
	NoRouter bool
	Link     *Carriage // how the card's link carries; nil: perfectly
	Lost     uint32    // packets on it
	// Duplex says that the ends of that link differ in duplex, VLAN that the port at its
	// other end carries another one than the card's.
	Duplex, VLAN bool
	Peers        []PeerPath
	Switches     []SwitchState
}

// PeerPath is how a peer and the card reach each other.
type PeerPath struct {
	Fault PathFault
	Heard int // notifications that arrived there
}

// SwitchState is where a network switch is.
type SwitchState uint8

// States of a switch.
const (
	SwitchDead     SwitchState = iota // no power
	SwitchStarting                    // links are there, nothing is forwarded
	SwitchForwards
)

// String is a word for s.
func (s SwitchState) String() string {
	return nameOf([]string{"dead", "starting", "forwards"}, int(s))
}
