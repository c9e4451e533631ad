package setting

import (
	"net/netip"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func init() {
	declare(Reach,
		atOnce(zone()),
		atOnce(&Setting{
			Path: "reach.time-from", Label: "clock kept by", Words: []string{"servers", "hand"}, Takes: "one of servers, hand",
			Help: "servers asks the time servers below, hand leaves the clock to whoever sets it.",
			get: func(s *snap.Settings, _ int) string {
				if s.Time.ByHand {
					return "hand"
				}
				return "servers"
			},
			set: byHand,
		}),
		atOnce(fromServers(span("reach.time-interval", "ask every", "How often the time servers are asked.",
			vtime.Minute, 24*vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Time.Interval }))),
		atOnce(fromServers(span("reach.time-step", "step beyond", "A clock that is off by more than this is set at once; another is brought there slowly, 1 s in 2000 s.",
			0, vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Time.Step }))),
		atOnce(fromServers(span("reach.time-limit", "not believed beyond", "A server that is further than this off a clock that was set once is not believed; 0s believes any. Set the clock by hand if it is the clock that is wrong.",
			0, 24*vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Time.Limit }))),
		timeServers(),
	)
}

// utc is the rule of the zone that an empty one means.
const utc = "UTC0"

func zone() *Setting {
	return &Setting{
		Path: "reach.zone", Label: "time zone",
		Help:  "Rule of the zone in which the card shows dates and by which its schedule acts: hours behind UTC, and the nights in which the clocks change.",
		Takes: "a rule as in TZ of POSIX such as UTC0 or CET-1CEST,M3.5.0,M10.5.0/3",
		get: func(s *snap.Settings, _ int) string {
			if s.Zone == "" {
				return utc
			}
			return s.Zone
		},
		set: func(s *snap.Settings, _ int, v string) error {
			if _, err := vtime.Zone(v); err != nil {
				return err
			}
			if s.Zone = v; v == utc {
				s.Zone = ""
			}
			return nil
		},
	}
}

func byHand(s *snap.Settings, _ int, v string) error {
	word := "servers"
	if s.Time.ByHand {
		word = "hand"
	}
	x := choice("", "", "", []string{"servers", "hand"}, func(*snap.Settings, int) *string { return &word })
	if err := x.set(s, 0, v); err != nil {
		return err
	}
	s.Time.ByHand = word == "hand"
	return nil
}

// fromServers asks for x where the clock is kept by servers.
func fromServers(x *Setting) *Setting {
	x.Asked = func(s *snap.Settings) bool { return !s.Time.ByHand }
	return x
}

func timeServers() *List {
	l := list("reach.time-server", "time server",
		"A server of the network time protocol. Three or more, fed from different places, show which of them is wrong.", 4,
		func(s *snap.Settings) *[]snap.TimeServer { return &s.Time.Servers },
		func(t *snap.TimeServer) *string { return &t.Name },
		func() snap.TimeServer { return snap.TimeServer{} },
		address("address", "address", "Its address, of IPv4 or IPv6; none: it is not asked.", true, parseAny,
			func(s *snap.Settings, i int) *netip.Addr { return &s.Time.Servers[i].Address }))
	l.AtOnce = true
	return l
}
