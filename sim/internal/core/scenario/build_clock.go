package scenario

import (
	"fmt"
	"math"
	"strings"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// clock makes the card's clock, and sets its zone in s.
func (b *builder) clock(t *clockTable, s *snap.Settings) (plan.CardClock, error) {
	rule := or(t.Zone, vtime.FixedRule(b.plan.Start))
	zone, err := vtime.Zone(rule)
	if err != nil {
		return plan.CardClock{}, b.src.at(t.at("zone"), err.Error(), `a rule such as "UTC0" or "CET-1CEST,M3.5.0,M10.5.0/3"`)
	}
	if s.Zone = rule; rule == "UTC0" {
		s.Zone, zone = "", time.UTC
	}
	k := plan.CardClock{
		Offset: t.Offset, DriftPPB: int64(math.Round(t.DriftPPM * 1000)),
		NoBattery: !t.Battery, Unset: !or(t.Set, t.Battery), Zone: zone,
	}
	s.Time.ByHand, s.Time.Interval, s.Time.Step, s.Time.Limit = t.From == "hand", t.Interval, t.Step, t.Limit
	for i := range b.file.Times {
		if x := &b.file.Times[i]; x.Known {
			s.Time.Servers = append(s.Time.Servers, snap.TimeServer{Name: strings.ReplaceAll(x.Name, "_", "-"), Address: x.Address})
		}
	}
	if len(s.Time.Servers) > mostServers {
		return k, b.src.at(b.file.Times[mostServers].at("known"), "the card has room for 4 time servers", "known = false for the others")
	}
	if k.Unset && t.Offset != 0 {
		return k, b.src.at(t.at("offset"), "offset is that of a clock that was set, and this one was not", "set = true, or no offset")
	}
	return k, nil
}

// mostServers is how many time servers the settings have room for.
const mostServers = 4

func (b *builder) timeServers() error {
	names, addresses := map[string]int{}, map[string]int{}
	for i := range b.file.Times {
		t := &b.file.Times[i]
		if err := b.newName(names, t.at("name"), "the time servers", t.Name); err != nil {
			return err
		}
		if err := b.unique(addresses, t.at("address"), "the addresses of time servers", t.Address.String()); err != nil {
			return err
		}
		s := plan.TimeServer{
			Name: t.Name, Address: t.Address, Silent: !t.Answers, WrongBy: t.WrongBy, Delay: t.Delay, Stratum: int(t.Stratum), Group: -1,
		}
		if t.Group != nil {
			g, ok := b.groups[*t.Group]
			if !ok {
				return b.missing(t.at("group"), "group", *t.Group, planGroups(b.plan))
			}
			s.Group = g
		}
		b.plan.TimeServers = append(b.plan.TimeServers, s)
	}
	return nil
}

func planGroups(p *plan.Plan) []string {
	var names []string
	for _, g := range p.Groups {
		names = append(names, g.Name)
	}
	return names
}

func clockAction(ahead *vtime.Tick) (plan.Action, error) {
	return plan.Action{Kind: plan.ActClock, Offset: *ahead}, nil
}

func (b *builder) timeAction(t *timeChangeTable) (plan.Action, error) {
	if t.Answers == nil && t.WrongBy == nil && t.Stratum == nil {
		return plan.Action{}, b.src.at(t.at("name"), "the time server does not change", "answers, wrong_by or stratum beside it")
	}
	c := &plan.TimeChange{Server: -1, Answers: t.Answers, WrongBy: t.WrongBy}
	if t.Stratum != nil {
		n := int(*t.Stratum)
		c.Stratum = &n
	}
	var names []string
	for i := range b.plan.TimeServers {
		if names = append(names, b.plan.TimeServers[i].Name); names[i] == t.Name {
			c.Server = i
		}
	}
	if c.Server < 0 {
		return plan.Action{}, b.missing(t.at("name"), "time server", t.Name, names)
	}
	return plan.Action{Kind: plan.ActTime, Time: c}, nil
}

// preset lays what a technician has set over the settings.
func (b *builder) preset(t *freeForm, s *snap.Settings) error {
	values, err := b.values(t)
	if err != nil || t == nil {
		return err
	}
	own := s.Clone() // what a new card has is everybody's
	at, err := setting.Apply(own, values)
	if err != nil {
		return b.refusedValue(t, values, at, err)
	}
	*s = *own
	return nil
}

// settingsAction is what somebody saves. Whether the card takes all of it together
// depends on how it then is.
func (b *builder) settingsAction(t *freeForm) (plan.Action, error) {
	values, err := b.values(t)
	if err != nil || t == nil {
		return plan.Action{}, err
	}
	trial := b.plan.Card.Settings.Clone()
	for i, v := range values {
		if err := setting.Put(trial, v); err != nil {
			return plan.Action{}, b.refusedValue(t, values, i, err)
		}
	}
	return plan.Action{Kind: plan.ActSettings, Settings: values}, nil
}

// values are the keys of a free-form table, each a path with a text.
func (b *builder) values(t *freeForm) (list []setting.Value, err error) {
	if t == nil {
		return nil, nil
	}
	for _, path := range t.node.order {
		kid := t.node.kids[path]
		text, ok := kid.val.(string)
		if !ok {
			return nil, b.src.at(kid.off, fmt.Sprintf("%q is no text", short(path)), "a value in quotes, as the menu of the card takes it")
		}
		list = append(list, setting.Value{Path: path, Text: text})
	}
	return list, nil
}

// refusedValue is the problem of a setting that cannot be so.
func (b *builder) refusedValue(t *freeForm, values []setting.Value, at int, err error) error {
	where := t.node.off
	if at >= 0 {
		where = t.node.kids[values[at].Path].off
	}
	return b.src.at(where, err.Error(), "what settings.md has for it")
}
