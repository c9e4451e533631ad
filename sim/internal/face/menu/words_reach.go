package menu

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

func init() {
	register(
		word{name: "lamps", brief: "how the lamps on the card's front shine, and what that means", part: partReading,
			detail: "Beside the card they are the first thing to look at: they tell of a start, of the link to the UPS and to\nthe network, and of alarms, before anybody can sign in.",
			read:   plain(lamps), data: lampsData},
		word{name: "reach", brief: "address, lease, gateway, name servers and lamps", part: partReach,
			detail: "What the network part came to. show reach adds what is set.",
			read:   plain(reach), data: reachData},
	)
}

func lamps(v View) string {
	var b strings.Builder
	for _, l := range v.Dev.Lamps(v.Now) {
		fmt.Fprintf(&b, "  %-8s %-7s %s\n", l.Name, l.Pattern, l.Means)
	}
	return b.String()
}

type lampState struct {
	Lamp    string `json:"lamp"`
	Pattern string `json:"pattern"`
	Means   string `json:"means"`
}

func lampsData(v View, _ []string) any {
	var list []lampState
	for _, l := range v.Dev.Lamps(v.Now) {
		list = append(list, lampState{l.Name, l.Pattern.String(), l.Means})
	}
	return list
}

func reach(v View) string {
	c := &v.Dev.Card
	text := addressNow(c.Address) + row("Hardware", c.Identity.Hardware)
	return text + row("Name servers", nameServers(c)) + "Lamps:\n" + lamps(v)
}

func nameServers(c *snap.Card) string {
	var list []string
	for _, a := range c.Settings.Link().DNS {
		if a.IsValid() {
			list = append(list, a.String())
		}
	}
	if list == nil {
		return "none"
	}
	return strings.Join(list, ", ")
}

func reachData(v View, _ []string) any {
	c := &v.Dev.Card
	return map[string]any{
		"address_state": c.Address.State, "address": addressText(c.Address), "gateway": setting.OrNone(c.Address.Gateway),
		"hardware_address": c.Identity.Hardware, "link": !c.LinkDown, "lamps": lampsData(v, nil),
	}
}
