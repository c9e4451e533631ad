package scenario

import (
	"encoding/binary"
	"fmt"
	"maps"
	"math"
	"net/netip"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
)

// nameUnits notes the names of the further units; 0 is the first one, which has none.
func (b *builder) nameUnits() error {
	b.unitAt = map[string]int{}
	for i := range b.file.Units {
		u := &b.file.Units[i]
		if err := b.newName(b.unitAt, u.at("name"), "the units", u.Name); err != nil {
			return err
		}
		b.unitAt[u.Name] = i + 1
	}
	if len(b.file.Units) > 0 && b.file.Fleet != nil {
		return b.src.at(b.file.Fleet.node.key, "the sites of a fleet have one unit each", "no [[unit]], or no [fleet]")
	}
	return nil
}

func (b *builder) unitNames() []string {
	var names []string
	for _, u := range b.plan.Units {
		names = append(names, u.UnitName)
	}
	return names
}

// unitOf is the number of the unit that a key names, that of the first without it.
func (b *builder) unitOf(t *table, name *string) (int, error) {
	if name == nil {
		return 0, nil
	}
	i, ok := b.unitAt[*name]
	if !ok {
		return 0, b.missing(t.at("unit"), "unit", *name, slices.Sorted(maps.Keys(b.unitAt)))
	}
	return i, nil
}

// units makes the plans of the further units: those of sites with the same groups,
// hosts and network around another UPS.
func (b *builder) units() error {
	for i := range b.file.Units {
		u := b.further(i)
		for _, step := range []func() error{
			u.source, u.ups, u.battery, u.buildProbes, u.buildGroups, u.buildHosts, u.buildServers, u.timeServers, u.loginServers, u.card, u.network,
		} {
			if err := step(); err != nil {
				return err
			}
		}
		u.plan.Policy = b.policyOf()
		b.others = append(b.others, u)
		b.plan.Units = append(b.plan.Units, u.plan)
	}
	// Two cards with one serial number would have one memory, too.
	if err := b.apart("a", "serial number", "serial_number", func(p *plan.Plan) string { return p.Card.Identity.SerialNumber }); err != nil {
		return err
	}
	return b.apart("an", "address", "address", func(p *plan.Plan) string { return cardAddress(p).String() })
}

// further begins the plan of the i-th further unit.
func (b *builder) further(i int) *builder {
	t, f := &b.file.Units[i], *b.file
	f.UPS, f.Battery, f.Card = t.UPS, t.Battery, t.Card
	f.Source.Generator, f.Source.Changeover = nil, nil
	if t.Source != nil {
		f.Source = *t.Source
	}
	f.Network.Offer = or(t.Offer, further(f.Network.Offer, i+1, b.used()))
	if t.Switch != nil {
		f.Network.Switch = t.Switch
	}
	f.Room, f.Probes, f.Fleet, f.Units = nil, nil, nil, nil
	key := rng.Key(b.plan.Seed, "unit/"+t.Name)
	return &builder{src: b.src, file: &f, kept: b.kept, unitAt: b.unitAt, unit: t, plan: &plan.Plan{
		Title: b.plan.Title, Seed: binary.BigEndian.Uint64(key[:]) & math.MaxInt64, Start: b.plan.Start, RunFor: b.plan.RunFor,
		Source: plan.Source{Volts: f.Source.NominalV, Hz: f.Source.FrequencyHz},
		Unit:   i + 1, UnitName: t.Name, SharedSource: t.Source == nil,
	}}
}

// further is the address so many behind p's, as long as that is in its network; those that
// somebody has are left out.
func further(p netip.Prefix, steps int, used map[netip.Addr]bool) netip.Prefix {
	a := p.Addr()
	for next := a.Next(); steps > 0 && p.Contains(next); next = next.Next() {
		if !used[next] {
			a, steps = next, steps-1
		}
	}
	return netip.PrefixFrom(a, p.Bits())
}

// used are the addresses of the site's network that the first unit's card and others have.
func (b *builder) used() map[netip.Addr]bool {
	n := &b.plan.Network
	used := map[netip.Addr]bool{cardAddress(b.plan): true, n.Router: true, n.Gateway: true}
	for _, a := range n.Taken {
		used[a] = true
	}
	for i := range b.plan.Peers {
		used[b.plan.Peers[i].Address.Addr()] = true
	}
	for i := range b.plan.Servers {
		used[b.plan.Servers[i].Address] = true
	}
	for i := range b.plan.TimeServers {
		used[b.plan.TimeServers[i].Address] = true
	}
	return used
}

// networkOf is the table in which a key about the card's place on the network stands.
func (b *builder) networkOf(key string) *table {
	if b.unit != nil && b.unit.has(key) {
		return &b.unit.table
	}
	return &b.file.Network.table
}

// policyOf is how the shutdown manager looks after a further unit: nil if it does not.
// It reads the temperature of the room at the first one.
func (b *builder) policyOf() *plan.Policy {
	if b.plan.Policy == nil || b.file.Policy.Units == "first" {
		return nil
	}
	own := *b.plan.Policy
	own.Inlet, own.InletAbove = "", 0
	return &own
}

// apart refuses a site on which two cards have one of what each has for itself.
func (b *builder) apart(article, what, key string, of func(*plan.Plan) string) error {
	taken := map[string]string{of(b.plan): "the first unit"}
	for i, u := range b.others {
		t, value := &b.file.Units[i], of(u.plan)
		if who, have := taken[value]; have {
			return b.src.at(t.Card.at(key), fmt.Sprintf("the card of unit %s has the %s of that of %s, %s", t.Name, what, who, value), article+" "+what+" of its own for each card")
		}
		taken[value] = "unit " + t.Name
	}
	return nil
}

// cardAddress is the one that the card is meant to have.
func cardAddress(p *plan.Plan) netip.Addr {
	if p.Card.Settings.Mode == snap.AddressFixed {
		return p.Card.Settings.Fixed.Addr()
	}
	return p.Network.Offer.Addr()
}

// of is the builder of the unit of that number.
func (b *builder) of(unit int) *builder {
	if unit == 0 {
		return b
	}
	return b.others[unit-1]
}

// forUnit refuses what is not a unit's own in an entry that names one.
func (b *builder) forUnit(t *entryTable) error {
	if t.Unit == nil {
		return nil
	}
	if i := b.unitAt[*t.Unit]; t.Source != nil && i > 0 && b.plan.Units[i-1].SharedSource {
		return b.src.at(t.at("source"), "unit "+*t.Unit+" is on the feeder of the first one: what happens to that happens to both", `input = "open" for its own breaker, a table [unit.source] for a feeder of its own, or an entry without unit`)
	}
	for _, key := range []string{"host", "outlet", "cooling", "probe", "contact", "server", "login_server", "time_server", "devices"} {
		if t.has(key) {
			return b.src.at(t.at(key), key+" stands beside unit, and is not of a unit", "an entry without unit for it")
		}
	}
	return nil
}
