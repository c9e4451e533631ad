package dossier

import (
	"ridethrough/sim/internal/core/budget"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Budget is the shutdown budget of the site, and what the run made of it.
type Budget struct {
	Holds      bool
	Alone      bool // it is that of the first of several units
	Troubles   []string
	Conditions Table
	Hosts      Table
}

// budgeted works the budget out with the usual margins; nil for a site without a shutdown
// manager or without anybody to protect. Of several units it is that of the first, as if
// the others were dead.
func budgeted(p *plan.Plan, r *report.Result, cycles []Cycle) *Budget {
	several := len(p.Units) > 0
	p = p.Alone(0)
	if p.Policy == nil || !budget.Protects(p) {
		return nil
	}
	b := budget.Of(p, &budget.Options{Begin: vtime.Never, Margin: budget.UsualMargin, StopPct: budget.UsualStopPct})
	out := &Budget{Holds: b.Holds, Alone: several, Troubles: b.Troubles}
	out.Conditions = Table{
		Title: "Conditions, times from the loss of the mains", Head: []string{"battery", "empty without a stop", "first order", "last stop", "latest first order", "to spare"},
	}
	for i := range b.Conditions {
		c := &b.Conditions[i]
		spare := "–"
		if c.Spare != vtime.Never {
			spare = lasts(max(c.Spare, 0))
			if c.Spare < 0 {
				spare = "too late by " + lasts(-c.Spare)
			}
		}
		out.Conditions.Rows = append(out.Conditions.Rows, []string{c.Condition.String(), lasts(c.Runtime), lasts(c.Decided), lasts(c.LastStop), lasts(c.Latest), spare})
	}
	out.Hosts = Table{
		Title: "Hosts, in the condition with the least to spare, and as this run had them",
		Head:  []string{"host", "stop, reckoned", "stop, measured", "done, reckoned", "done, measured", "limit"},
	}
	losses := lost(r)
	for _, h := range b.Conditions[b.Worst].Hosts {
		stop, done := measured(p.Hosts[h.Host].Name, losses, cycles)
		out.Hosts.Rows = append(out.Hosts.Rows, []string{p.Hosts[h.Host].Name, lasts(h.Stop), stop, lasts(h.Done), done, lasts(h.Limit)})
	}
	return out
}

// lost are the instants at which the load went to the battery.
func lost(r *report.Result) (list []vtime.Tick) {
	for i := range r.Events {
		if e := &r.Events[i]; e.What.Kind == snap.WhatOutput && e.What.Source == snap.SourceBattery {
			list = append(list, e.Tick)
		}
	}
	return list
}

// measured is the longest clean stop of a host, and the latest that it was done after the
// loss that came before.
func measured(host string, losses []vtime.Tick, cycles []Cycle) (stop, done string) {
	longest, latest := vtime.Tick(-1), vtime.Tick(-1)
	for i := range cycles {
		c := &cycles[i]
		if c.Host != host || c.Ordered == vtime.Never || c.Stopped == vtime.Never {
			continue
		}
		longest = max(longest, c.Stopped-c.Ordered)
		since := vtime.Tick(-1)
		for _, at := range losses {
			if at <= c.Ordered {
				since = at
			}
		}
		if since >= 0 {
			latest = max(latest, c.Stopped-since)
		}
	}
	return lasts(longest), lasts(latest)
}
