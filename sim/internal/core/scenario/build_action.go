package scenario

import (
	"fmt"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// actions is what an entry does, in the order of its parts.
func (b *builder) actions(t *entryTable) ([]plan.Action, error) {
	var list []plan.Action
	for _, p := range b.parts(t) {
		if p.make == nil {
			continue
		}
		a, err := p.make()
		if err != nil {
			return nil, err
		}
		if p.stands {
			list = append(list, a)
		}
	}
	if len(list) == 0 && t.Note == "" {
		return nil, b.src.at(t.node.key, "the entry does nothing", "source, card, ups_link, test, host, alarm, battery, health, charger, quirk, network, link, dhcp, output, generator, input, bypass_source, cooling, fan, probe, contact, bypass, inverter, high_efficiency, outlet, remote_switching, server, policy, try, time_server, clock, settings, firmware, label, reset, sign_in, account, login_server, charge_pct or note")
	}
	return list, nil
}

// part is what a key of an entry comes to. A key that others belong to is looked at
// even if it does not stand there: they may not stand without it.
type part struct {
	stands bool
	make   func() (plan.Action, error)
}

// parts are those of an entry, in the order in which they happen.
func (b *builder) parts(t *entryTable) []part {
	return []part{
		given(t.Source, b.change),
		given(t.Card, cardAction),
		turned(t.UnitLink, plan.ActUnitLink, "up"),
		given(t.Test, testAction),
		{t.Host != nil, func() (plan.Action, error) { return b.hostAction(t) }},
		given(t.Alarm, b.alarm),
		turned(t.Charger, plan.ActCharger, "working"),
		given(t.Quirk, b.quirkAction),
		given(t.Firmware, b.firmwareAction),
		single(t.HostKey, plan.ActHostKey),
		single(t.Label, plan.ActLabel),
		ordered(t.Reset, plan.ActReset),
		given(t.Network, b.networkAction),
		turned(t.Link, plan.ActLink, "up"),
		turned(t.DHCP, plan.ActDHCP, "present"),
		turned(t.Output, plan.ActOutput, "on"),
		turned(t.Generator, plan.ActGenerator, "working"),
		turned(t.Input, plan.ActInput, "closed"),
		given(t.Second, func(c *changeTable) (plan.Action, error) { return b.second(t, c) }),
		turned(t.Cooling, plan.ActCooling, "working"),
		turned(t.Fan, plan.ActFan, "working"),
		given(t.Probe, b.probeAction),
		given(t.Contact, b.contactAction),
		ordered(t.Bypass, plan.ActBypass),
		turned(t.Inverter, plan.ActInverter, "working"),
		given(t.Battery, b.replaceAction),
		single(t.Health, plan.ActHealthReset),
		turned(t.Thrifty, plan.ActHighEfficiency, "on"),
		given(t.Server, b.serverAction),
		given(t.Policy, func(order *string) (plan.Action, error) { return b.policyAction(t, *order) }),
		given(t.Try, tryAction),
		given(t.Outlet, b.outletAction),
		turned(t.Remote, plan.ActLockout, "locked"),
		given(t.NTP, b.timeAction),
		given(t.Clock, clockAction),
		given(t.Settings, b.settingsAction),
		given(t.SignIn, b.signInAction),
		given(t.Account, b.accountAction),
		given(t.LoginServer, b.loginServerAction),
		given(t.ChargePct, chargeAction),
	}
}

// given is what make makes of a key that stands there.
func given[T any](key *T, make func(*T) (plan.Action, error)) part {
	if key == nil {
		return part{}
	}
	return part{true, func() (plan.Action, error) { return make(key) }}
}

// turned is a key with two words, of which on is the one that turns something on.
func turned(key *string, kind plan.ActionKind, on string) part {
	return given(key, func(word *string) (plan.Action, error) { return plan.Action{Kind: kind, On: *word == on}, nil })
}

// ordered is a key whose word says what to do.
func ordered(key *string, kind plan.ActionKind) part {
	return given(key, func(word *string) (plan.Action, error) { return plan.Action{Kind: kind, Order: *word}, nil })
}

// single is a key with one word.
func single(key *string, kind plan.ActionKind) part {
	return given(key, func(*string) (plan.Action, error) { return plan.Action{Kind: kind}, nil })
}

func cardAction(word *string) (plan.Action, error) {
	if *word == "restart" {
		return plan.Action{Kind: plan.ActCardRestart}, nil
	}
	return plan.Action{Kind: plan.ActCardLife, Order: *word}, nil
}

func testAction(name *string) (plan.Action, error) {
	return plan.Action{Kind: plan.ActTest, Test: testByName(*name)}, nil
}

func chargeAction(percent *float64) (plan.Action, error) {
	return plan.Action{Kind: plan.ActCharge, Value: *percent}, nil
}

// replaceAction is a battery that is replaced.
func (b *builder) replaceAction(t *replaceTable) (plan.Action, error) {
	left := map[string]plan.OldBlock{"none": plan.NoOldBlock, "aged": plan.AgedBlock, "faulty": plan.FaultyBlock}[t.OldBlock]
	if left == plan.FaultyBlock && b.plan.Battery.Weak == nil {
		return plan.Action{}, b.src.at(t.at("old_block"), "the battery has no faulty block", "battery.weak_block, or another old_block")
	}
	return plan.Action{Kind: plan.ActReplace, Value: t.ChargePct, Left: left}, nil
}

func (b *builder) policyAction(t *entryTable, order string) (plan.Action, error) {
	if b.plan.Policy == nil {
		return plan.Action{}, b.src.at(t.at("policy"), "there is no shutdown manager", "a table [policy]")
	}
	return plan.Action{Kind: plan.ActPolicy, Order: order}, nil
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

func (b *builder) alarm(t *alarmTable) (plan.Action, error) {
	raise, clear := t.Raise, t.Clear
	if (raise == nil) == (clear == nil) {
		return plan.Action{}, b.src.at(t.node.off, "alarm needs either raise or clear", "exactly one of them")
	}
	key, name := "raise", or(raise, "")
	if clear != nil {
		key, name = "clear", *clear
	}
	kind, err := b.alarmNamed(t.at(key), name)
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

// tryAction is a test message to the one with that name, or with "" to everybody.
func tryAction(name *string) (plan.Action, error) {
	to := *name
	if to == "all" {
		to = ""
	}
	return plan.Action{Kind: plan.ActTry, Order: to}, nil
}
