package scenario

import (
	"fmt"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// actions is what an entry does, in the order of the schema.
func (b *builder) actions(t *entryTable) ([]plan.Action, error) {
	var list []plan.Action
	add := func(present bool, a plan.Action) {
		if present {
			list = append(list, a)
		}
	}
	if t.Source != nil {
		a, err := b.change(t.Source)
		if err != nil {
			return nil, err
		}
		list = append(list, a)
	}
	add(or(t.Card, "") == "restart", plan.Action{Kind: plan.ActCardRestart})
	add(t.Card != nil && *t.Card != "restart", plan.Action{Kind: plan.ActCardLife, Order: or(t.Card, "")})
	add(t.UnitLink != nil, plan.Action{Kind: plan.ActUnitLink, On: or(t.UnitLink, "") == "up"})
	add(t.Test != nil, plan.Action{Kind: plan.ActTest, Test: testByName(or(t.Test, ""))})
	host, err := b.hostAction(t)
	if err != nil {
		return nil, err
	}
	add(t.Host != nil, host)
	alarm, err := b.alarm(t)
	if err != nil {
		return nil, err
	}
	add(t.Alarm != nil, alarm)
	add(t.Charger != nil, plan.Action{Kind: plan.ActCharger, On: or(t.Charger, "") == "working"})
	quirk, err := b.quirkAction(t.Quirk)
	if err != nil {
		return nil, err
	}
	add(t.Quirk != nil, quirk)
	firmware, err := b.firmwareAction(t.Firmware)
	if err != nil {
		return nil, err
	}
	add(t.Firmware != nil, firmware)
	add(t.HostKey != nil, plan.Action{Kind: plan.ActHostKey})
	add(t.Label != nil, plan.Action{Kind: plan.ActLabel})
	change, err := b.networkAction(t)
	if err != nil {
		return nil, err
	}
	add(t.Network != nil, change)
	add(t.Link != nil, plan.Action{Kind: plan.ActLink, On: or(t.Link, "") == "up"})
	add(t.DHCP != nil, plan.Action{Kind: plan.ActDHCP, On: or(t.DHCP, "") == "present"})
	add(t.Output != nil, plan.Action{Kind: plan.ActOutput, On: or(t.Output, "") == "on"})
	add(t.Generator != nil, plan.Action{Kind: plan.ActGenerator, On: or(t.Generator, "") == "working"})
	add(t.Input != nil, plan.Action{Kind: plan.ActInput, On: or(t.Input, "") == "closed"})
	if t.Second != nil {
		a, err := b.second(t)
		if err != nil {
			return nil, err
		}
		list = append(list, a)
	}
	add(t.Cooling != nil, plan.Action{Kind: plan.ActCooling, On: or(t.Cooling, "") == "working"})
	add(t.Fan != nil, plan.Action{Kind: plan.ActFan, On: or(t.Fan, "") == "working"})
	probe, err := b.probeAction(t)
	if err != nil {
		return nil, err
	}
	add(t.Probe != nil, probe)
	contact, err := b.contactAction(t)
	if err != nil {
		return nil, err
	}
	add(t.Contact != nil, contact)
	add(t.Bypass != nil, plan.Action{Kind: plan.ActBypass, Order: or(t.Bypass, "")})
	add(t.Inverter != nil, plan.Action{Kind: plan.ActInverter, On: or(t.Inverter, "") == "working"})
	if r := t.Battery; r != nil {
		left := map[string]plan.OldBlock{"none": plan.NoOldBlock, "aged": plan.AgedBlock, "faulty": plan.FaultyBlock}[r.OldBlock]
		if left == plan.FaultyBlock && b.plan.Battery.Weak == nil {
			return nil, b.src.at(r.at("old_block"), "the battery has no faulty block", "battery.weak_block, or another old_block")
		}
		list = append(list, plan.Action{Kind: plan.ActReplace, Value: r.ChargePct, Left: left})
	}
	add(t.Health != nil, plan.Action{Kind: plan.ActHealthReset})
	add(t.Thrifty != nil, plan.Action{Kind: plan.ActHighEfficiency, On: or(t.Thrifty, "") == "on"})
	server, err := b.serverAction(t.Server)
	if err != nil {
		return nil, err
	}
	add(t.Server != nil, server)
	if t.Policy != nil && b.plan.Policy == nil {
		return nil, b.src.at(t.at("policy"), "there is no shutdown manager", "a table [policy]")
	}
	add(t.Policy != nil, plan.Action{Kind: plan.ActPolicy, Order: or(t.Policy, "")})
	add(t.Try != nil, plan.Action{Kind: plan.ActTry, Order: tried(or(t.Try, ""))})
	order, err := b.outletAction(t)
	if err != nil {
		return nil, err
	}
	add(t.Outlet != nil, order)
	add(t.Remote != nil, plan.Action{Kind: plan.ActLockout, On: or(t.Remote, "") == "locked"})
	if list, err = b.cardActions(t, list); err != nil {
		return nil, err
	}
	logins, err := b.loginActions(t)
	if err != nil {
		return nil, err
	}
	list = append(list, logins...)
	add(t.ChargePct != nil, plan.Action{Kind: plan.ActCharge, Value: or(t.ChargePct, 0)})
	if len(list) == 0 && t.Note == "" {
		return nil, b.src.at(t.node.key, "the entry does nothing", "source, card, ups_link, test, host, alarm, battery, health, charger, quirk, network, link, dhcp, output, generator, input, bypass_source, cooling, fan, probe, contact, bypass, inverter, high_efficiency, outlet, remote_switching, server, policy, try, time_server, clock, settings, firmware, label, sign_in, account, login_server, charge_pct or note")
	}
	return list, nil
}

// change is what a source entry makes of the supply.
func (b *builder) change(t *changeTable) (plan.Action, error) {
	nominal := b.plan.Source
	c := plan.Change{Volts: nominal.Volts, Hz: nominal.Hz}
	a := plan.Action{Kind: plan.ActSource}
	if err := b.level(t, &c); err != nil {
		return a, err
	}
	if err := b.course(t, &c); err != nil {
		return a, err
	}
	a.Change = c
	return a, nil
}

// second is what an entry makes of the feed of the bypass.
func (b *builder) second(t *entryTable) (plan.Action, error) {
	if b.plan.UPS.Bypass.Supply != plan.BypassSecond {
		return plan.Action{}, b.src.at(t.at("bypass_source"), "the bypass has no second feed", `[ups.bypass] supply = "second"`)
	}
	a, err := b.change(t.Second)
	a.Kind = plan.ActBypassSource
	return a, err
}

// level is the voltage and frequency that a source entry goes to.
func (b *builder) level(t *changeTable, c *plan.Change) error {
	set := 0
	for _, share := range []*float64{t.SagPct, t.SwellPct} {
		if share != nil {
			c.Volts = float64(*share*c.Volts) / 100
			set++
		}
	}
	if t.Volts != nil {
		c.Volts = *t.Volts
		set++
	}
	switch {
	case t.Word == "lost":
		c.Volts = 0
	case t.Word == "normal":
		return nil
	case set > 1:
		return b.src.at(t.node.off, "the source has more than one of sag_pct, swell_pct and volts", "one of them")
	case set == 0 && t.Hz == nil:
		return b.src.at(t.node.off, "the source does not change", "sag_pct, swell_pct, volts or hz")
	}
	c.Line = int(or(t.Line, 0))
	if c.Volts == 0 && c.Line == 0 { // a dead supply has no frequency either
		c.Hz = 0
	}
	c.Hz = or(t.Hz, c.Hz)
	return nil
}

// course is how a source entry gets there and how long it stays.
func (b *builder) course(t *changeTable, c *plan.Change) error {
	if t.Word != "" {
		return nil
	}
	c.Lasts, c.Over = or(t.Lasts, 0), or(t.Over, 0)
	c.Count, c.Every = int(or(t.Count, 0)), or(t.Every, 0)
	c.Jitter, c.LastsUpTo = or(t.Jitter, 0), or(t.LastsUpTo, 0)
	switch {
	case c.Over > 0 && (c.Lasts > 0 || c.Line > 0 || c.Count > 0):
		return b.src.at(t.at("over"), "over stands beside lasts, line or count", "none of them")
	case c.Count > 0 && (c.Lasts == 0 || c.Every == 0):
		return b.src.at(t.at("count"), "count lacks lasts or every", "both beside it")
	case c.Count == 0 && (t.Every != nil || t.Jitter != nil || t.LastsUpTo != nil):
		return b.src.at(t.node.off, "every, jitter or lasts_up_to stands without count", "count")
	case c.LastsUpTo > 0 && c.LastsUpTo < c.Lasts:
		return b.src.at(t.at("lasts_up_to"), "lasts_up_to is shorter than lasts", "at least lasts")
	case c.Count > 0 && max(c.Lasts, c.LastsUpTo) >= c.Every:
		return b.src.at(t.at("every"), "one dip would not be over before the next begins", "every longer than each dip lasts")
	}
	return nil
}

func testByName(name string) snap.TestKind {
	for k := snap.TestNone; k <= snap.TestDeepCalibration; k++ {
		if k.String() == name {
			return k
		}
	}
	return snap.TestNone
}

func (b *builder) hostAction(t *entryTable) (plan.Action, error) {
	changes := t.DrawW != nil || t.StopTakes != nil || t.Hangs != nil || t.Channel != nil || t.Order != nil
	switch {
	case t.Host == nil && changes:
		return plan.Action{}, b.src.at(t.node.key, "draw_w, stop_takes, hangs, channel or order stand without host", "host")
	case t.Host == nil:
		return plan.Action{}, nil
	case !changes:
		return plan.Action{}, b.src.at(t.at("host"), "the host does not change", "draw_w, stop_takes, hangs, channel or order beside it")
	}
	i, ok := b.hosts[*t.Host]
	if !ok {
		return plan.Action{}, b.missing(t.at("host"), "host", *t.Host, planHosts(b.plan))
	}
	if b.plan.Hosts[i].Process != nil && t.Channel != nil {
		return plan.Action{}, b.src.at(t.at("channel"), noChannel(*t.Host), "no channel")
	}
	return plan.Action{Kind: plan.ActHost, Host: i, Draw: t.DrawW, Stop: t.StopTakes, Hangs: t.Hangs, Channel: channel(t.Channel), Order: or(t.Order, "")}, nil
}

func channel(name *string) *snap.Channel {
	if name == nil {
		return nil
	}
	c := snap.ChannelByName(*name)
	return &c
}

func planHosts(p *plan.Plan) []string {
	var names []string
	for _, h := range p.Hosts {
		names = append(names, h.Name)
	}
	return names
}

func (b *builder) alarm(t *entryTable) (plan.Action, error) {
	if t.Alarm == nil {
		return plan.Action{}, nil
	}
	raise, clear := t.Alarm.Raise, t.Alarm.Clear
	if (raise == nil) == (clear == nil) {
		return plan.Action{}, b.src.at(t.at("alarm"), "alarm needs either raise or clear", "exactly one of them")
	}
	key, name := "raise", or(raise, "")
	if clear != nil {
		key, name = "clear", *clear
	}
	kind, err := b.alarmNamed(t.Alarm.at(key), name)
	if err != nil {
		return plan.Action{}, err
	}
	return plan.Action{Kind: plan.ActAlarm, Alarm: kind, On: raise != nil}, nil
}

// alarmNamed is the well-known alarm of that name, which stands at off.
func (b *builder) alarmNamed(off int, name string) (snap.AlarmKind, error) {
	if kind := snap.AlarmByName(name); kind != 0 {
		return kind, nil
	}
	p := b.src.at(off, fmt.Sprintf("there is no alarm %q", short(name)), "a well-known alarm of RFC 1628 as alarms.* lists them")
	p.Near = expect.Nearest(name, alarmNames())
	return 0, p
}

func alarmNames() []string {
	var names []string
	for k := snap.AlarmKind(1); k < snap.AlarmKinds; k++ {
		names = append(names, k.String())
	}
	return names
}

// tried is whom a test message goes to; "" is everybody.
func tried(name string) string {
	if name == "all" {
		return ""
	}
	return name
}
