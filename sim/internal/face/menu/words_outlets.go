package menu

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func init() {
	register(
		word{name: "groups", brief: "outlet groups: state, load, and what is believed to be on them", part: partShutdown,
			detail: "The load is measured, the list of hosts is what somebody typed. To prove it, stop one host at a\ntime and see which group's load falls. shutdown.group.NAME.hosts corrects the list.",
			read:   plain(groups), data: groupsData},
		word{name: "outlet", brief: "switch an outlet group off or on, or cycle it", part: partShutdown, needs: snap.Operator,
			detail: "outlet off GROUP, outlet on GROUP, outlet cycle GROUP. A group that was ordered off stays off, also over\nan outage, until it is ordered on. Nothing that hangs on it is asked: stop it first.",
			acts:   []verb{{"off", switching(snap.OrderOff)}, {"on", switching(snap.OrderOn)}, {"cycle", switching(snap.OrderCycle)}}},
	)
}

// switchable are the indices of the groups that the card can switch.
func switchable(d *snap.Device) (list []int) {
	if d.Outlets.Roster == nil {
		return nil
	}
	for i := range d.Outlets.Roster.Groups {
		if !d.Outlets.Roster.Groups[i].Mains {
			list = append(list, i)
		}
	}
	return list
}

// groupNamed is the group of that name, -1 if the card cannot switch one of it.
func groupNamed(d *snap.Device, name string) int {
	for _, i := range switchable(d) {
		if d.Outlets.Roster.Groups[i].Name == name {
			return i
		}
	}
	return -1
}

func groupNames(d *snap.Device) (names []string) {
	for _, i := range switchable(d) {
		names = append(names, d.Outlets.Roster.Groups[i].Name)
	}
	return names
}

func groups(v View) string {
	list := switchable(v.Dev)
	if len(list) == 0 {
		return "The unit has no outlet groups that the card sees.\n"
	}
	rows := [][]string{{"GROUP", "STATE", "LOAD", "HOSTS BELIEVED TO BE ON IT"}}
	for _, i := range list {
		g := &v.Dev.Outlets.Roster.Groups[i]
		rows = append(rows, []string{titled(g), groupStates(v.Dev, i), fmt.Sprintf("%.0f W", v.Dev.Outlets.LoadW[i]), orNobody(g.Hosts)})
	}
	return table(rows) + remarksOnOutlets(v)
}

// remarksOnOutlets says what holds for all groups.
func remarksOnOutlets(v View) string {
	o, text := &v.Dev.Outlets, ""
	if o.Locked {
		text += "Switching from remote is locked out at the unit.\n"
	}
	if v.Dev.UPS.AwaitsCharge {
		text += fmt.Sprintf("The output waits for a charge of %d %%; it is at %s.\n", v.Dev.Card.Settings.Restart.Pct, value(v, "upsEstimatedChargeRemaining"))
	}
	if o.TurnsAt != vtime.Never {
		text += fmt.Sprintf("The next group is switched in %s.\n", span(o.TurnsAt-v.Now))
	}
	return text
}

// unusualGroups are groups that are not as the output is, and what holds for all, if
// there is anything.
func unusualGroups(v View) string {
	var list []string
	for _, i := range switchable(v.Dev) {
		if v.Dev.Outlets.Cause(i) != snap.CauseNone {
			list = append(list, v.Dev.Outlets.Roster.Groups[i].Name+" "+groupStates(v.Dev, i))
		}
	}
	if v.Dev.UPS.AwaitsCharge {
		list = append(list, fmt.Sprintf("the output waits for a charge of %d %%", v.Dev.Card.Settings.Restart.Pct))
	}
	if v.Dev.Outlets.Locked {
		list = append(list, "locked at the unit")
	}
	if list == nil {
		return ""
	}
	return row("Outlet groups", strings.Join(list, "; "))
}

func titled(g *snap.RosterGroup) string {
	if g.Label == "" {
		return g.Name
	}
	return g.Name + " (" + printable(g.Label) + ")"
}

func orNobody(hosts string) string {
	if hosts == "" {
		return "(nobody said)"
	}
	return printable(hosts)
}

// groupStates is how a group is and why, in words.
func groupStates(d *snap.Device, i int) string {
	state := map[snap.GroupState]string{
		snap.GroupOn: "on", snap.GroupOff: "off", snap.GroupTurningOn: "off, on soon", snap.GroupTurningOff: "on, off soon",
	}[d.Outlets.Group(i)]
	switch d.Outlets.Cause(i) {
	case snap.CauseOrder:
		state += ", as ordered"
	case snap.CauseShed:
		state += ", shed"
	case snap.CauseShort:
		state += ", waits for charge"
	}
	return state
}

type groupReading struct {
	Group string   `json:"group"`
	Label string   `json:"label,omitempty"`
	State string   `json:"state"`
	Cause string   `json:"cause"`
	LoadW float64  `json:"load_w"`
	Hosts []string `json:"believed_hosts"`
}

func groupsData(v View, _ []string) any {
	o := &v.Dev.Outlets
	list := []groupReading{}
	for _, i := range switchable(v.Dev) {
		g := &o.Roster.Groups[i]
		list = append(list, groupReading{
			Group: g.Name, Label: printable(g.Label), State: o.Group(i).String(), Cause: o.Cause(i).String(),
			LoadW: float64(o.LoadW[i]), Hosts: append([]string{}, snap.HostsIn(printable(g.Hosts))...),
		})
	}
	return map[string]any{"groups": list, "locked": o.Locked, "output_awaits_charge": v.Dev.UPS.AwaitsCharge}
}

// switching is the action that gives the order.
func switching(order snap.GroupOrder) *action {
	return &action{
		ask:     []question{{label: "group", help: "The name of an outlet group: groups lists them with their load.", check: knownGroup}},
		caution: func(v View, given []string) string { return switchCaution(v, groupNamed(v.Dev, given[0]), order) },
		confirm: order.String(),
		command: func(_ View, given []string) snap.Command {
			return snap.Command{Op: snap.OpSwitch, Group: given[0], Text: order.String()}
		},
		done: func(v View, given []string) string { return switched(v, groupNamed(v.Dev, given[0]), order) },
	}
}

func knownGroup(v View, _ []string, answer string) (string, error) {
	name := strings.ToLower(answer)
	if groupNamed(v.Dev, name) < 0 {
		return "", fmt.Errorf("there is no outlet group %q that can be switched: %s", answer, strings.Join(groupNames(v.Dev), ", "))
	}
	return name, nil
}

// switchCaution says which group it is, what the card believes to be on it and what
// it carries, before it is switched.
func switchCaution(v View, i int, order snap.GroupOrder) string {
	g := &v.Dev.Outlets.Roster.Groups[i]
	text := fmt.Sprintf("CAUTION\nGroup %s: %s. It carries %.0f W of %s at the output.\nBelieved to be on it: %s.\n",
		titled(g), groupStates(v.Dev, i), v.Dev.Outlets.LoadW[i], outputWatts(v.Dev), orNobody(g.Hosts))
	if order == snap.OrderOn {
		return text + "What hangs on it starts. Somebody may be working on what seems dead: ask on site first. For work at\nequipment, isolate it by local rules; a group that is off isolates nothing.\n" + decides
	}
	text += "They lose this supply at once, and what has no other is cut in the middle of its work: stop it first.\nThe list is what somebody typed. If the load does not fit it, this may be the wrong group.\n"
	if k := slices.IndexFunc(v.Dev.Card.Settings.Groups, func(s snap.OutletGroup) bool { return s.Name == g.Name }); k >= 0 && v.Dev.Card.Settings.Groups[k].ControlPath {
		text += "It feeds the control path: without it nobody may reach this card, or the hosts, to switch it on again.\n"
	}
	return text + decides
}

func outputWatts(d *snap.Device) string {
	sum := 0.0
	for i := range d.Output.Count {
		sum += d.Output.Lines[i].Watts
	}
	return fmt.Sprintf("%.0f W", sum)
}

// switched tells what came of an order.
func switched(v View, i int, order snap.GroupOrder) string {
	text := fmt.Sprintf("Ordered. Group %s: %s.\n", v.Dev.Outlets.Roster.Groups[i].Name, groupStates(v.Dev, i))
	if order != snap.OrderOff && !v.Dev.UPS.OutputOn {
		text += "The output of the unit is off: the group follows it.\n"
	}
	return text
}
