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
	add(t.Card != nil, plan.Action{Kind: plan.ActCardRestart})
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
	add(t.DHCP != nil, plan.Action{Kind: plan.ActDHCP, On: or(t.DHCP, "") == "present"})
	add(t.Output != nil, plan.Action{Kind: plan.ActOutput, On: or(t.Output, "") == "on"})
	add(t.ChargePct != nil, plan.Action{Kind: plan.ActCharge, Value: or(t.ChargePct, 0)})
	if len(list) == 0 && t.Note == "" {
		return nil, b.src.at(t.node.key, "the entry does nothing", "source, card, test, host, alarm, charger, dhcp, output, charge_pct or note")
	}
	return list, nil
}

// change is what a source entry makes of the supply.
func (b *builder) change(t *changeTable) (plan.Action, error) {
	nominal := b.plan.Source
	a := plan.Action{Kind: plan.ActSource, Volts: nominal.Volts, Hz: nominal.Hz, Lasts: or(t.Lasts, 0)}
	set := 0
	for _, share := range []*float64{t.SagPct, t.SwellPct} {
		if share != nil {
			a.Volts = float64(*share*nominal.Volts) / 100
			set++
		}
	}
	if t.Volts != nil {
		a.Volts = *t.Volts
		set++
	}
	switch {
	case t.Word == "lost":
		a.Volts = 0
	case t.Word == "normal":
		return a, nil
	case set > 1:
		return a, b.src.at(t.node.off, "the source has more than one of sag_pct, swell_pct and volts", "one of them")
	case set == 0 && t.Hz == nil:
		return a, b.src.at(t.node.off, "the source does not change", "sag_pct, swell_pct, volts or hz")
	}
	if a.Volts == 0 { // a dead line has no frequency either
		a.Hz = 0
	}
	a.Hz = or(t.Hz, a.Hz)
	return a, nil
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
	changes := t.DrawW != nil || t.StopTakes != nil || t.Hangs != nil || t.Order != nil
	switch {
	case t.Host == nil && changes:
		return plan.Action{}, b.src.at(t.node.key, "draw_w, stop_takes, hangs or order stand without host", "host")
	case t.Host == nil:
		return plan.Action{}, nil
	case !changes:
		return plan.Action{}, b.src.at(t.at("host"), "the host does not change", "draw_w, stop_takes, hangs or order beside it")
	}
	i, ok := b.hosts[*t.Host]
	if !ok {
		return plan.Action{}, b.missing(t.at("host"), "host", *t.Host, planHosts(b.plan))
	}
	return plan.Action{Kind: plan.ActHost, Host: i, Draw: t.DrawW, Stop: t.StopTakes, Hangs: t.Hangs, Order: or(t.Order, "")}, nil
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
	kind := snap.AlarmByName(name)
	if kind == 0 {
		p := b.src.at(t.Alarm.at(key), fmt.Sprintf("there is no alarm %q", short(name)), "a well-known alarm of RFC 1628 as alarms.* lists them")
		p.Near = expect.Nearest(name, alarmNames())
		return plan.Action{}, p
	}
	return plan.Action{Kind: plan.ActAlarm, Alarm: kind, On: raise != nil}, nil
}

func alarmNames() []string {
	var names []string
	for k := snap.AlarmKind(1); k < snap.AlarmKinds; k++ {
		names = append(names, k.String())
	}
	return names
}
