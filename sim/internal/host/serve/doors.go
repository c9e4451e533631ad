package serve

import "ridethrough/sim/internal/core/plan"

// Door is one thing that a session opens for others to come in.
type Door struct{ Surface, Transport, Address, Flag, When, Serves string }

// free is where a door is unless somebody says otherwise.
const free = "127.0.0.1:0"

// Doors are those of a session and the card of its first unit. A test compares them with what the
// process has open.
func Doors() []Door {
	return []Door{
		{"snmp", "udp", free, "--snmp", "", "the card's SNMP agent; with --bind real at each address of the card, port 161"},
		{"snmp", "udp", free, "", "with the quirk wrong-source", "nothing: replies leave from it, what arrives is not read"},
		{"ssh", "tcp", free, "--ssh", "", "the card's menu and its command lines; with --bind real likewise, port 22"},
		{"bench", "tcp", free, "--bench", "", "the tester's side: state, time, faults; with a token"},
		{"serial", "pty", "", "--serial", "", "the card's menu on its serial line"},
	}
}

// UnitDoors are those of the cards of a scenario's further units, whose bench is that of
// the first.
func UnitDoors(p *plan.Plan) (list []Door) {
	for _, u := range p.Units {
		for _, d := range Doors() {
			if d.Surface != "bench" {
				d.Surface += " of " + u.UnitName
				list = append(list, d)
			}
		}
	}
	return list
}

// SinkDoors are those of a scenario's sinks that are not mapped elsewhere.
func SinkDoors(p *plan.Plan) (list []Door) {
	for i := range p.Servers {
		v := &p.Servers[i]
		name := "sink " + v.Name
		mail := Door{name, "tcp", free, "", "", "a mail relay that keeps what arrives"}
		log := Door{name, "tcp", free, "", "", "a collector that keeps what arrives, over TCP or TLS"}
		datagrams := Door{name, "udp", free, "", "", "likewise, over UDP"}
		switch {
		case !v.Sink:
		case v.Kind == plan.ServerMail:
			list = append(list, mail)
		case v.Kind == plan.ServerSyslog:
			list = append(list, log, datagrams)
		default:
			datagrams.Serves = "a receiver of notifications that keeps what arrives"
			list = append(list, datagrams)
		}
	}
	return list
}

// FleetDoors are those of a fleet.
func FleetDoors() []Door {
	return []Door{
		{"snmp", "udp", free, "--snmp", "", "the SNMP agent of each device, at an address or port of its own"},
		{"bench", "tcp", free, "--bench", "", "the tester's side of all devices; with a token"},
	}
}
