package budget

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/phys/power"
)

// troubles are what no time and no charge helps against.
func troubles(p *plan.Plan) (list []string) {
	list = append(list, overload(p)...)
	for i := range p.Hosts {
		list = append(list, hostTroubles(p, &p.Hosts[i])...)
	}
	return list
}

// overload says whether the load is more than the unit bears for ever, at the hottest
// of its place.
func overload(p *plan.Plan) []string {
	var watts, va float64
	for i := range p.Hosts {
		h := &p.Hosts[i]
		if protected(p, h) {
			watts += h.DrawW
			va += h.DrawW / h.PowerFactor
		}
	}
	c := &p.UPS.Converter
	share := 1 - float64(c.DeratePct*max(p.Battery.HottestC-c.DerateC, 0))/100
	pct := power.LoadPct(watts, va, p.UPS.RatingW*share, p.UPS.RatingVA*share)
	if pct <= 100 {
		return nil
	}
	return []string{fmt.Sprintf("the hosts load the unit with %.0f %% of what it carries at %g C: it gives way before the battery does", pct, p.Battery.HottestC)}
}

var channelFault = map[snap.Channel]string{
	snap.ChannelRefuses: "takes no connection",
	snap.ChannelRejects: "rejects the credentials of whoever orders it",
	snap.ChannelIgnores: "accepts the order and does nothing",
	snap.ChannelExpired: "has a certificate that has expired",
}

func hostTroubles(p *plan.Plan, h *plan.Host) (list []string) {
	if !protected(p, h) {
		return nil
	}
	if h.Hangs {
		list = append(list, fmt.Sprintf("host %s never finishes stopping", h.Name))
	}
	if h.Channel != snap.ChannelWorks {
		list = append(list, fmt.Sprintf("host %s is not stopped: its channel %s", h.Name, channelFault[h.Channel]))
	}
	if gap := p.UPS.Transfer; (p.UPS.Topology != plan.VFI || p.UPS.HighEfficiency) && gap > h.HoldUp {
		list = append(list, fmt.Sprintf("host %s does not ride through the transfer to the battery: hold_up %s, transfer %s", h.Name, h.HoldUp.Duration(), gap.Duration()))
	}
	for _, n := range h.Needs {
		if need := &p.Hosts[n]; !protected(p, need) {
			list = append(list, fmt.Sprintf("host %s needs %s, which no group of the unit feeds", h.Name, need.Name))
		}
	}
	return list
}

// protected says whether a group of the unit feeds h.
func protected(p *plan.Plan, h *plan.Host) bool {
	return slices.ContainsFunc(h.Groups, func(g int) bool { return !p.Groups[g].FromMains })
}

// Protects says whether the unit feeds any host of p.
func Protects(p *plan.Plan) bool {
	return slices.ContainsFunc(p.Hosts, func(h plan.Host) bool { return protected(p, &h) })
}
