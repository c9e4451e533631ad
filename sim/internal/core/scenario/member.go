package scenario

import (
	"encoding/binary"
	"fmt"
	"math"
	"net/netip"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
)

// fleetNet is where the simulated addresses of a fleet lie: the documentation
// networks have no room for so many, the benchmarking network (RFC 2544 appendix
// C.2.2) has.
var fleetNet = netip.MustParsePrefix("198.18.0.0/15")

// suffix is what is put behind names to tell devices apart.
func suffix(n int) string { return fmt.Sprintf("-%05d", n) }

// Member is device n of a fleet of p, counted from 1; see [Members].
func Member(p *plan.Plan, n int) *plan.Member { return Members(p)(n) }

// Members makes the devices of a fleet of p by their numbers, counted from 1: sites
// with dice, numbers, names, and addresses of their own. What the scenario leaves to
// be derived from the seed differs too; what it sets, such as communities, all have
// in common. Several goroutines may call it at once.
func Members(p *plan.Plan) func(n int) *plan.Member {
	model, network := *p.Self(), p.Network
	model.Card.Like().NoLogin = true
	_, network.Gateway = fleetAddress(1)
	network.Subnet, network.Router = fleetNet, network.Gateway
	model.Network = &network
	return func(n int) *plan.Member {
		m := model
		own(p, &m, n)
		return &m
	}
}

// own gives m, which is like all others, what device n has of its own.
func own(p *plan.Plan, m *plan.Member, n int) {
	key := rng.Key(p.Seed, fmt.Sprintf("device/%d", n))
	m.Number = n
	m.Seed = binary.BigEndian.Uint64(key[:]) & math.MaxInt64
	m.Entries = entriesOf(p.Entries, n)
	c := &m.Card
	c.Identity.SerialNumber += suffix(n)
	c.Identity.Hardware = hardwareAddress(m.Seed)
	c.Settings.Name += suffix(n)
	if c.Settings.UPSName != "" {
		c.Settings.UPSName += suffix(n)
	}
	if c.ReadFromSeed {
		c.Settings.ReadCommunity = snap.NewSecret(community(m.Seed, c.Identity.SerialNumber, "read"))
	}
	if c.WriteFromSeed {
		c.Settings.WriteCommunity = snap.NewSecret(community(m.Seed, c.Identity.SerialNumber, "write"))
	}
	pairOwn(p, m)
	address, gateway := fleetAddress(n)
	if c.Settings.Mode == snap.AddressFixed {
		c.Settings.Fixed, c.Settings.Gateway = address, gateway
	}
	c.Offer = address
}

// pairOwn pairs the card of m with the probes of m.
func pairOwn(p *plan.Plan, m *plan.Member) {
	if len(p.Probes) == 0 {
		return // the settings stay shared
	}
	set := m.Card.Settings.Clone().Surroundings
	for i := range set.Probes {
		for k := range p.Probes {
			if set.Probes[i].ID == p.Probes[k].ID {
				set.Probes[i].ID = m.ProbeID(&p.Probes[k])
				break
			}
		}
	}
	m.Card.Settings.Surroundings = set
}

// fleetAddress is the n-th address behind the gateway, which has the first.
func fleetAddress(n int) (netip.Prefix, netip.Addr) {
	base := fleetNet.Addr().As4()
	var a [4]byte
	binary.BigEndian.PutUint32(a[:], binary.BigEndian.Uint32(base[:])+1+uint32(n))
	return netip.PrefixFrom(netip.AddrFrom4(a), fleetNet.Bits()), fleetNet.Addr().Next()
}

// entriesOf is those of the entries that happen to device n; the list itself if
// all do.
func entriesOf(all []plan.Entry, n int) []plan.Entry {
	for i := range all {
		if !happensTo(&all[i], n) {
			mine := append([]plan.Entry(nil), all[:i]...)
			for _, e := range all[i:] {
				if happensTo(&e, n) {
					mine = append(mine, e)
				}
			}
			return mine
		}
	}
	return all
}

func happensTo(e *plan.Entry, n int) bool {
	for _, r := range e.Devices {
		if n >= r.First && n <= r.Last {
			return true
		}
	}
	return e.Devices == nil
}
