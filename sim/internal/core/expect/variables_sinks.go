package expect

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// SinkNames is a server that keeps what arrives, and the messages that it counts.
type SinkNames struct {
	Name    string
	Matches []string
}

func sinkVariables(n SinkNames, i int) []Variable {
	p := "sinks." + n.Name + "."
	list := []Variable{
		count(p+"count", "messages that arrived at this server, one with sink = true, whoever sent them",
			func(s *snap.Site) float64 { return float64(s.Sink(i).Count) }),
		number(p+"last_s", "seconds from the start to the latest of them, -1 while there was none",
			func(s *snap.Site) float64 { return lastS(s.Sink(i).Last) }),
		count(p+"refused", "messages that it turned away",
			func(s *snap.Site) float64 { return float64(s.Sink(i).Refused) }),
		count(p+"lost", "messages that got lost by its drops_pct",
			func(s *snap.Site) float64 { return float64(s.Sink(i).Lost) }),
		count(p+"repeats", "informs that arrived once more",
			func(s *snap.Site) float64 { return float64(s.Sink(i).Repeats) }),
	}
	for k, name := range n.Matches {
		list = append(list, count(p+"matched."+name, "messages that arrived there and meet its [[server.match]] of that name",
			func(s *snap.Site) float64 { return float64(s.Sink(i).MatchedBy(k)) }))
	}
	return list
}

func lastS(t vtime.Tick) float64 {
	if t == vtime.Never {
		return -1
	}
	return t.Seconds()
}
