package scenario

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func (b *builder) buildGroups() error {
	b.groups = map[string]int{}
	for i := range b.file.Groups {
		g := &b.file.Groups[i]
		if err := b.newName(b.groups, g.at("name"), "the groups", g.Name); err != nil {
			return err
		}
		if err := b.pastTheUnit(g); err != nil {
			return err
		}
		unit, err := b.unitOf(&g.table, g.Unit)
		if err != nil {
			return err
		}
		b.plan.Groups = append(b.plan.Groups, plan.Group{
			Name: g.Name, Unit: unit, OnDelay: g.OnDelay, OffDelay: g.OffDelay, FromMains: g.FedBy == "mains", Inrush: inrush(g.Inrush),
			Rules: rules(g),
		})
	}
	if len(b.plan.Groups) == 0 {
		if len(b.unitAt) > 0 {
			return b.src.at(b.file.node.key, "there is more than one unit and no group to say what each feeds", "[[group]] tables, those of further units with unit")
		}
		b.groups["outlets"] = 0
		b.plan.Groups = []plan.Group{{Name: "outlets", OffDelay: vtime.Never}}
	}
	return nil
}

// pastTheUnit refuses what means nothing for a group that the UPS does not feed.
func (b *builder) pastTheUnit(g *groupTable) error {
	for _, key := range []string{"unit", "on_delay", "off_delay", "label", "control_path", "shed_after", "shed_runtime", "shed_charge_pct", "min_charge_pct", "min_off"} {
		if g.FedBy == "mains" && g.has(key) {
			return b.src.at(g.at(key), key+" means nothing for a group that the mains feed", `fed_by = "ups"`)
		}
	}
	return nil
}

func inrush(t *inrushTable) plan.Inrush {
	if t == nil {
		return plan.Inrush{}
	}
	return plan.Inrush{Times: t.Times, Lasts: t.Lasts}
}

func (b *builder) buildHosts() error {
	b.hosts = map[string]int{}
	for i := range b.file.Hosts {
		h := &b.file.Hosts[i]
		if err := b.newName(b.hosts, h.at("name"), "the hosts", h.Name); err != nil {
			return err
		}
	}
	for i := range b.file.Hosts {
		if err := b.host(&b.file.Hosts[i]); err != nil {
			return err
		}
	}
	return b.noCircle()
}

func (b *builder) host(t *hostTable) error {
	if line := int(or(t.Line, 0)); line > b.plan.UPS.LinesOut && b.own(t) {
		return b.src.at(t.at("line"), fmt.Sprintf("host %s hangs on line %d of %d", t.Name, line, b.plan.UPS.LinesOut), `a line of the output, or [ups] phases = "3/3"`)
	}
	groups, err := b.groupsOf(t)
	if err != nil {
		return err
	}
	if n := or(t.Supplies, 1); int(n) > len(groups) {
		return b.src.at(t.at("supplies_needed"), fmt.Sprintf("host %s needs %d supplies and has %d", t.Name, n, len(groups)), "as many groups at least")
	}
	believed, err := b.supplies(t, "believed_groups", t.Believed)
	if err != nil {
		return err
	}
	if t.has("process") && t.has("channel") {
		return b.src.at(t.at("channel"), noChannel(t.Name), "either process or channel")
	}
	var needs []int
	for i, name := range t.Needs {
		need, ok := b.hosts[name]
		if !ok {
			return b.missing(t.node.kids["needs"].items[i].off, "host", name, b.hostNames())
		}
		needs = append(needs, need)
	}
	var wired *plan.Wired
	if w := t.Wired; w != nil {
		wired = &plan.Wired{Output: int(w.Output), Closed: w.When == "closed", For: w.For}
	}
	b.plan.Hosts = append(b.plan.Hosts, plan.Host{
		Name: t.Name, Groups: groups, Supplies: int(or(t.Supplies, 0)), Believed: believed, Line: int(or(t.Line, 0)),
		DrawW: t.DrawW, IdleW: t.IdleW, PowerFactor: t.PowerFactor,
		HoldUp: t.HoldUp, Stop: t.StopTakes, Boot: t.BootTakes,
		Needs:   needs,
		Restart: map[string]plan.RestartRule{"on": plan.RestartOn, "last": plan.RestartLast, "off": plan.RestartOff}[t.Restart],
		Process: slices.Clone(t.Process), Hangs: t.Hangs, Channel: snap.ChannelByName(t.Channel), Wired: wired,
	})
	return nil
}

func noChannel(host string) string {
	return "host " + host + " is a real process, which nobody orders to stop: it has no channel"
}

// own says whether a host hangs on this unit, which only matters if there are more.
func (b *builder) own(t *hostTable) bool {
	for _, name := range append(slices.Clone(t.Groups), or(t.Group, "")) {
		if g, ok := b.groups[name]; ok && b.plan.Feeds(g) {
			return true
		}
	}
	return len(b.unitAt) == 0
}

// groupsOf is where a host gets its power from: one group, or one for each of
// its supplies.
func (b *builder) groupsOf(t *hostTable) ([]int, error) {
	switch {
	case t.Group != nil && t.Groups != nil:
		return nil, b.src.at(t.at("groups"), "both group and groups are set", "one of them")
	case t.Groups != nil && len(t.Groups) == 0:
		return nil, b.src.at(t.at("groups"), "groups is empty", "the name of at least one group")
	case t.Groups != nil:
		return b.supplies(t, "groups", t.Groups)
	case t.Group != nil:
		g, ok := b.groups[*t.Group]
		if !ok {
			return nil, b.missing(t.at("group"), "group", *t.Group, b.groupNames())
		}
		return []int{g}, nil
	case len(b.plan.Groups) > 1:
		return nil, b.src.at(t.node.key, "host "+t.Name+" lacks group, and there is more than one", "the name of a group")
	}
	return []int{0}, nil
}

// supplies are the groups that a key of a host names.
func (b *builder) supplies(t *hostTable, key string, names []string) ([]int, error) {
	var list []int
	for i, name := range names {
		g, ok := b.groups[name]
		switch {
		case !ok:
			return nil, b.missing(t.node.kids[key].items[i].off, "group", name, b.groupNames())
		case slices.Contains(list, g):
			return nil, b.src.at(t.node.kids[key].items[i].off, "group "+name+" stands twice", "each group once")
		}
		list = append(list, g)
	}
	return list, nil
}

func (b *builder) hostNames() []string {
	var names []string
	for _, h := range b.file.Hosts {
		names = append(names, h.Name)
	}
	return names
}

func (b *builder) groupNames() []string {
	var names []string
	for _, g := range b.plan.Groups {
		names = append(names, g.Name)
	}
	return names
}

// noCircle refuses hosts that need each other in a circle: they could not be
// stopped in any order. It takes away, again and again, hosts that need none of
// those left.
func (b *builder) noCircle() error {
	left := map[int]bool{}
	for i := range b.plan.Hosts {
		left[i] = true
	}
	for again := true; again; {
		again = false
		for i := range b.plan.Hosts {
			if left[i] && !needsAny(&b.plan.Hosts[i], left) {
				delete(left, i)
				again = true
			}
		}
	}
	for i := range b.plan.Hosts {
		if left[i] {
			return b.src.at(b.file.Hosts[i].at("needs"), "hosts need each other in a circle: "+b.circle(i, left), "needs without a circle")
		}
	}
	return nil
}

func needsAny(h *plan.Host, left map[int]bool) bool {
	return slices.ContainsFunc(h.Needs, func(n int) bool { return left[n] })
}

// circle follows what is left from start until a host comes again.
func (b *builder) circle(start int, left map[int]bool) string {
	var seen []int
	i := start
	for !slices.Contains(seen, i) {
		seen = append(seen, i)
		needs := b.plan.Hosts[i].Needs
		i = needs[slices.IndexFunc(needs, func(n int) bool { return left[n] })]
	}
	names := []string{b.plan.Hosts[i].Name}
	for _, k := range seen[slices.Index(seen, i)+1:] {
		names = append(names, b.plan.Hosts[k].Name)
	}
	return strings.Join(append(names, b.plan.Hosts[i].Name), " -> ")
}

func (b *builder) policy() error {
	t := b.file.Policy
	if t == nil {
		return nil
	}
	if t.OnBatteryFor == nil && t.RuntimeBelow == nil && t.ChargeBelowPct == nil && !t.OnLowBattery && t.InletAboveC == nil {
		return b.src.at(t.node.key, "[policy] has no trigger", "on_battery_for, runtime_below, charge_below_pct, inlet_above_c or on_low_battery = true")
	}
	if (t.InletAboveC == nil) != (t.InletProbe == nil) {
		return b.src.at(t.node.key, "[policy] has one of inlet_above_c and inlet_probe", "both or neither")
	}
	if name := or(t.InletProbe, ""); name != "" {
		if _, ok := b.probes[name]; !ok {
			return b.missing(t.at("inlet_probe"), "probe", name, slices.Sorted(maps.Keys(b.probes)))
		}
	}
	peer, err := b.peerOf(&t.table, t.Peer)
	if err != nil {
		return err
	}
	speaks, err := b.client(&t.table, t.Version, t.Read, t.Write, t.As)
	if err != nil {
		return err
	}
	b.plan.Policy = &plan.Policy{
		Peer: peer, Client: speaks,
		Poll: t.PollEvery, Timeout: t.Timeout, Retries: int(t.Retries), Confirm: int(t.Confirm),
		OnBatteryFor: or(t.OnBatteryFor, 0), RuntimeBelow: or(t.RuntimeBelow, 0),
		ChargeBelow: or(t.ChargeBelowPct, 0), OnLowBattery: t.OnLowBattery,
		InletAbove: or(t.InletAboveC, 0), Inlet: or(t.InletProbe, ""),
		EvenOnMains:      t.Believe.Mains == "ignore",
		CardTimer:        t.Believe.Timer == "card",
		MinutesAsSeconds: t.Believe.RuntimeUnit == "seconds",
		IgnoreSilence:    t.Believe.Silence == "mains",
		TrustOrder:       t.Believe.Countdown == "trust",
		UnknownIsMains:   t.Believe.Unknown == "mains",
		AcceptInvalid:    t.Believe.Invalid == "accept",
		AlarmsAlone:      t.Believe.Failure == "alarms",
		DistrustJumps:    t.Believe.Jumps == "distrust",
		IgnoreTest:       t.Believe.Tests == "ignore",
		BatteryAsInlet:   t.Believe.Inlet == "battery",
		LastSample:       t.Believe.Sample == "last",
		FirstOutage:      t.Believe.Outages == "first",
		HostDeadline:     t.HostDeadline, InOrder: t.Order == "by-needs",
		StopDualFed: t.DualFed == "stop",
		OffDelay:    t.OffDelay, OffWhen: t.OffWhen, StartDelay: t.StartDelay,
		OnReturn: map[string]plan.ReturnRule{"finish": plan.ReturnFinish, "cancel": plan.ReturnCancel, "ignore": plan.ReturnIgnore}[t.OnReturn],
		MinOff:   t.MinOff, MinCharge: t.MinChargePct,
	}
	return nil
}
