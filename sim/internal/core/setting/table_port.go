package setting

import (
	"fmt"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

func linkMode() *Setting {
	return &Setting{
		Path: "reach.link-mode", Label: "speed and duplex of the port",
		Help: "Speed in Mbit/s and duplex of the network port. auto negotiates both (IEEE 802.3 clause 28). Any other is fixed and does not negotiate: a switch port that does then finds the speed and takes half duplex, " +
			"so that 10-full and 100-full need the same at the switch. Two ends that differ in duplex lose packets when there are many; two that are fixed to different speeds have no link. Set it where the serial line can be reached.",
		Takes: "one of " + strings.Join(snap.LinkModes, ", "), Words: snap.LinkModes,
		get: func(s *snap.Settings, _ int) string { return string(s.Link().PortMode()) },
		set: func(s *snap.Settings, _ int, v string) error {
			for _, w := range snap.LinkModes {
				if w == strings.ToLower(v) {
					s.Links.Mode = snap.LinkMode(w)
					return nil
				}
			}
			return fmt.Errorf("%q: expected one of %s", v, strings.Join(snap.LinkModes, ", "))
		},
	}
}

func vlan() *Setting {
	return &Setting{
		Path: "reach.vlan", Label: "VLAN of the port",
		Help:  "VLAN that the frames of the card carry as a tag (IEEE 802.1Q). none sends and takes frames without a tag, which is right for an access port, whatever VLAN that puts them into. With another one than the switch port carries nothing passes: set it where the serial line can be reached.",
		Takes: fmt.Sprintf("none, or a number from 1 to %d", snap.MaxVLAN),
		get: func(s *snap.Settings, _ int) string {
			if n := s.Link().VLAN; n != 0 {
				return strconv.Itoa(n)
			}
			return "none"
		},
		set: func(s *snap.Settings, _ int, v string) error {
			n, err := strconv.Atoi(v)
			switch {
			case strings.ToLower(v) == "none":
				n = 0
			case err != nil || n < 1 || n > snap.MaxVLAN:
				return fmt.Errorf("%q is no VLAN: type none, or a number from 1 to %d", v, snap.MaxVLAN)
			}
			s.Links.VLAN = n
			return nil
		},
	}
}
