package menu

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func init() {
	register(
		word{name: "lamps", brief: "how the lamps on the card's front shine, and what that means", part: partReading,
			detail: "Beside the card they are the first thing to look at: they tell of a start, of the link to the UPS and to\nthe network, and of alarms, before anybody can sign in.",
			read:   plain(lamps), data: lampsData},
		word{name: "link", brief: "speed, duplex and VLAN of the network port, and the errors that it has counted", part: partReach,
			detail: "Errors that rise with the traffic tell of a damaged lead, or of two ends that differ in duplex: then the end with\nfull duplex counts frames that arrive damaged, the one with half duplex late collisions. Compare with the port of\nthe switch: nobody else tells what that is set to.",
			read:   plain(link), data: linkData},
		word{name: "ping", needs: snap.Viewer, brief: "whether the card reaches an address, and what stands in the way", part: partReach,
			detail: "ping, and an address or the name of a machine. Try one of the card's own network first, then the gateway,\nthen one behind it: the first that fails names the fault.",
			act:    &ping},
		word{name: "reach", brief: "address, lease, gateway, name servers and lamps", part: partReach,
			detail: "What the network part came to. show reach adds what is set.",
			read:   plain(reach), data: reachData},
	)
}

// ping asks the network, not the card's settings.
var ping = action{
	ask: []question{{
		label: "address or name",
		help:  "Such as 192.0.2.1, the gateway, or a receiver.",
		check: func(_ View, _ []string, answer string) (string, error) {
			if len(answer) > 64 {
				return "", fmt.Errorf("that is longer than any address")
			}
			return answer, nil
		},
	}},
	command: func(_ View, given []string) snap.Command { return snap.Command{Op: snap.OpPing, Text: given[0]} },
	reply:   func(r snap.Result) string { return sentence(r.Reason) },
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
	text := addressNow(c.Address) + row("Hardware", c.Identity.Hardware) + leaseTimes(v)
	if c.Address.Second.IsValid() {
		text += row("Second address", c.Address.Second.String())
	}
	if six := c.Address.V6State; six != "" && six != snap.V6Off {
		text += row("IPv6", six+" "+strings.TrimPrefix(c.Address.V6.String(), "invalid Prefix"))
	}
	return text + row("Name servers", nameServers(c)) + "Lamps:\n" + lamps(v)
}

// link is the network port as the port itself knows it.
func link(v View) string {
	c := &v.Dev.Card
	p := c.PortNow()
	state := fmt.Sprintf("%d Mbit/s, %s duplex", p.Mbit, duplexWord(p))
	if c.LinkDown {
		state = "no link"
	}
	return row("Port", state) + row("Set to", string(p.Mode)) + row("VLAN", vlanWord(p)) +
		row("Errors", fmt.Sprintf("%d frames arrived damaged, %d not sent", p.InErrors, p.OutErrors)) +
		row("Late collisions", fmt.Sprint(p.LateCollisions))
}

func duplexWord(p *snap.Port) string {
	if p.Half {
		return "half"
	}
	return "full"
}

func vlanWord(p *snap.Port) string {
	if p.VLAN == 0 {
		return "none"
	}
	return fmt.Sprint(p.VLAN)
}

func linkData(v View, _ []string) any {
	c := &v.Dev.Card
	p := c.PortNow()
	return map[string]any{
		"link": !c.LinkDown, "mode": p.Mode, "mbit": p.Mbit, "duplex": duplexWord(p), "vlan": p.VLAN,
		"in_errors": p.InErrors, "out_errors": p.OutErrors, "late_collisions": p.LateCollisions,
	}
}

// leaseTimes tells how long a lease holds.
func leaseTimes(v View) string {
	l := &v.Dev.Card.Address.Lease
	if l.Until == 0 {
		return ""
	}
	text := row("Lease ends in", span(l.Until-v.Now))
	if l.Overdue > 0 {
		return text + row("", fmt.Sprintf("the address server has not answered %s for more", count(l.Overdue, "request")))
	}
	if l.Renew != vtime.Never {
		text += row("Renewed in", span(l.Renew-v.Now))
	}
	return text
}

func nameServers(c *snap.Card) string {
	var list []string
	for _, a := range c.Address.DNS {
		if a.IsValid() {
			list = append(list, a.String())
		}
	}
	if list == nil {
		return "none"
	}
	return strings.Join(list, ", ")
}

// leaseLeft is whole seconds, -1 without a lease.
func leaseLeft(v View) int64 {
	if until := v.Dev.Card.Address.Lease.Until; until != 0 {
		return (until - v.Now).WholeSeconds()
	}
	return -1
}

func reachData(v View, _ []string) any {
	c := &v.Dev.Card
	return map[string]any{
		"address_state": c.Address.State, "address": addressText(c.Address), "second_address": strings.TrimPrefix(c.Address.Second.String(), "invalid IP"), "gateway": setting.OrNone(c.Address.Gateway),
		"lease_left_s": leaseLeft(v), "address6_state": c.Address.V6State, "name_servers": nameServers(c),
		"hardware_address": c.Identity.Hardware, "link": !c.LinkDown, "lamps": lampsData(v, nil),
	}
}
