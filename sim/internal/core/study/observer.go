package study

import (
	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// observer follows one run frame by frame.
type observer struct {
	plan  *plan.Plan
	hosts []watched

	cause   string // why outlets went dead last
	causeAt vtime.Tick

	at        vtime.Tick // of the frame before
	batteries []carriage // of each unit, likewise

	margin Margin
	known  bool
	cut    bool    // a host was cut with its outlet
	lacked float64 // seconds that the slowest of them still needed
	why    []Reason
}

// carriage is what a battery does for hosts.
type carriage struct {
	carried bool    // a host at work
	runtime float64 // that it had left
}

// watched is one host.
type watched struct {
	onUPS  bool
	state  snap.HostState
	since  vtime.Tick
	waits  bool // for what it needs
	gap    bool // a dead time was more than it holds up
	wasCut bool
}

func newObserver(p *plan.Plan) *observer {
	o := &observer{plan: p, hosts: make([]watched, len(p.Hosts)), batteries: make([]carriage, 1+len(p.Units)), causeAt: -vtime.Hour}
	for i := range p.Hosts {
		w := &o.hosts[i]
		w.state, w.onUPS = snap.HostRunning, true
		for _, g := range p.Hosts[i].Groups {
			w.onUPS = w.onUPS && !p.Groups[g].FromMains
		}
	}
	return o
}

func (o *observer) see(f *engine.Frame) {
	for i := range f.Events {
		e := &f.Events[i]
		switch w := &e.What; w.Kind {
		case snap.WhatHostGap:
			o.hosts[w.Of].gap = true
		case snap.WhatHostWaits:
			o.hosts[w.Of].waits = true
		case snap.WhatHost:
			o.enter(w.Of, e.Tick, w.Host)
		case snap.WhatOutputOff:
			o.cause, o.causeAt = "the output went off: "+w.Why.Text, e.Tick
		case snap.WhatGroupShed:
			o.lost(e.Tick, w.Of, " was shed: "+w.Why.Text)
		case snap.WhatGroupOff:
			o.lost(e.Tick, w.Of, " went off")
		}
	}
	o.measure(f.Site)
}

// lost notes that an outlet group went off by itself.
func (o *observer) lost(at vtime.Tick, group int, how string) {
	if o.causeAt != at { // else it follows from what is noted
		o.cause, o.causeAt = "group "+o.plan.Groups[group].Name+how, at
	}
}

func (o *observer) enter(i int, at vtime.Tick, state snap.HostState) {
	w := &o.hosts[i]
	if state == snap.HostCut {
		o.cutHost(i, at)
	}
	w.state, w.since, w.waits, w.gap = state, at, false, false
}

func (o *observer) cutHost(i int, at vtime.Tick) {
	w := &o.hosts[i]
	if !w.gap && w.onUPS {
		o.cut = true
		o.lacked = max(o.lacked, o.lacking(i, at))
	}
	if !w.wasCut {
		w.wasCut = true
		o.why = append(o.why, Reason{Host: i + 1, Text: plain(o.doing(w) + ": " + o.because(w, at))})
	}
}

// lacking is how long a host that is cut still needed to stop.
func (o *observer) lacking(i int, at vtime.Tick) float64 {
	w, needs := &o.hosts[i], o.plan.Hosts[i].Stop
	if w.state == snap.HostStopping {
		needs -= at - w.since
	}
	return max(needs, 1).Seconds() // what waits for something else would need longer
}

func (o *observer) doing(w *watched) string {
	switch {
	case w.waits:
		return w.state.String() + ", waiting for what it needs"
	case w.state == snap.HostRunning:
		return "running, not told to stop"
	}
	return w.state.String()
}

func (o *observer) because(w *watched, at vtime.Tick) string {
	switch {
	case w.gap:
		return "a gap of its supply was more than it holds up"
	case at-o.causeAt <= 10*vtime.Second: // the longest that a host holds up
		return o.cause
	}
	return "its supply was lost"
}

// measure follows what the batteries have left while they carry a host at work.
func (o *observer) measure(s *snap.Site) {
	for unit := range o.batteries {
		b, of := &o.batteries[unit], s.Of(unit)
		carries := of.UPS.Source == snap.SourceBattery && o.working(s, unit)
		if b.carried && !carries {
			o.settle(max(0, b.runtime-(s.Tick-o.at).Seconds()), of.ChargePct) // at the load until now
		}
		b.carried, b.runtime = carries, of.TrueRuntimeS
	}
	o.at = s.Tick
}

// working says whether a host is at work that lives on batteries alone and would not
// without that of this unit.
func (o *observer) working(s *snap.Site, unit int) bool {
	for i := range s.Hosts {
		switch s.Hosts[i].State {
		case snap.HostRunning, snap.HostStopping, snap.HostBooting:
			if o.hosts[i].onUPS && o.leans(s, i, unit) {
				return true
			}
		}
	}
	return false
}

// leans says whether host i would have too few supplies without the battery of a unit:
// those of other units count while they are not on battery themselves.
func (o *observer) leans(s *snap.Site, i, unit int) bool {
	h, fed, others := &o.plan.Hosts[i], false, 0
	for _, g := range h.Groups {
		switch of := o.plan.Groups[g].Unit; {
		case of == unit:
			fed = true
		case s.Groups[g].On && s.Of(of).UPS.Source != snap.SourceBattery:
			others++
		}
	}
	return fed && others < h.LeastSupplies()
}

// settle is the end of an outage, or of the last host in it.
func (o *observer) settle(seconds, charge float64) {
	if !o.known || seconds < o.margin.Seconds {
		o.margin.Seconds = seconds
	}
	if !o.known || charge < o.margin.ChargePct {
		o.margin.ChargePct = charge
	}
	o.known = true
}

// outcome closes the run at its last site.
func (o *observer) outcome(s *snap.Site, verdicts []expect.Verdict, draws []float64) Outcome {
	for unit := range o.batteries {
		if o.batteries[unit].carried {
			o.settle(s.Of(unit).TrueRuntimeS, s.Of(unit).ChargePct)
		}
	}
	if o.cut {
		o.margin, o.known = Margin{Seconds: -o.lacked}, true
	}
	out := Outcome{Draws: draws, Why: o.why}
	if o.known {
		out.Margin = &Margin{rounded(o.margin.Seconds), rounded(o.margin.ChargePct)}
	}
	claims := make([]byte, len(verdicts))
	for i := range verdicts {
		claims[i] = letterOf(verdicts[i].State)
		if claims[i] != metLetter {
			out.Why = append(out.Why, Reason{Claim: i + 1, Text: plain(verdicts[i].Because)})
		}
	}
	out.Claims, out.Hosts = string(claims), o.letters(s)
	return out
}

func (o *observer) letters(s *snap.Site) string {
	letters := make([]byte, len(s.Hosts))
	for i := range s.Hosts {
		switch {
		case o.hosts[i].wasCut:
			letters[i] = cutLetter
		case s.Hosts[i].State == snap.HostRunning:
			letters[i] = workLetter
		default:
			letters[i] = awayLetter
		}
	}
	return string(letters)
}
