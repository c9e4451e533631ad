package sim

import "ridethrough/sim/internal/host/serve"

// Listener is one door that serving a scenario opens. There are no others.
type Listener struct {
	Surface   string // "snmp", "ssh", "bench", "serial", "snmp of UNIT" and so on, or "sink NAME"
	Transport string // "udp", "tcp", or "pty" for the serial line
	Address   string // unless told otherwise; port 0 is a free one, "" a temporary path
	Flag      string // of serve, that tells otherwise
	When      string // it is opened; "": always
	Serves    string // what answers
}

// Listeners are those of one UPS with its card.
func Listeners() []Listener { return listeners(serve.Doors()) }

// Listeners are those that serving s opens.
func (s *Scenario) Listeners() []Listener {
	if s.plan.Fleet != nil {
		return listeners(serve.FleetDoors())
	}
	return append(append(Listeners(), listeners(serve.UnitDoors(s.plan))...), listeners(serve.SinkDoors(s.plan))...)
}

func listeners(doors []serve.Door) []Listener {
	list := make([]Listener, len(doors))
	for i, d := range doors {
		list[i] = Listener(d)
	}
	return list
}
