package setting

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func init() {
	declare(Reach, atOnce(zone()))
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
