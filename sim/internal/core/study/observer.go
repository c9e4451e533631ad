package study

import (
	"strings"

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
	index map[string]int // of hosts, by the subject of their events

	cause   string // why outlets went dead last
	causeAt vtime.Tick

	// Of the frame before.
	at      vtime.Tick
	carried bool // the battery carried a host at work
	runtime float64

	margin Margin
	known  bool
	cut    bool    // a host was cut with its outlet
	lacked float64 // seconds that the slowest of them still needed
	why    []Reason
}

// watched is one host.
type watched struct {
	onUPS  bool
	state  string // in the words of events
	since  vtime.Tick
	waits  bool // for what it needs
	gap    bool // a dead time was more than it holds up
	wasCut bool
}

func newObserver(p *plan.Plan) *observer {
	o := &observer{plan: p, hosts: make([]watched, len(p.Hosts)), index: make(map[string]int, len(p.Hosts)), causeAt: -vtime.Hour}
	for i := range p.Hosts {
		o.index["host "+p.Hosts[i].Name] = i
		w := &o.hosts[i]
		w.state, w.onUPS = snap.HostRunning.String(), true
		for _, g := range p.Hosts[i].Groups {
			w.onUPS = w.onUPS && !p.Groups[g].FromMains
		}
	}
	return o
}

func (o *observer) see(f *engine.Frame) {
	for i := range f.Events {
		e := &f.Events[i]
		switch {
		case strings.HasPrefix(e.Subject, "host "):
			if h, ok := o.index[e.Subject]; ok {
				o.host(h, e.Tick, e.Text)
			}
		case e.Subject == "output" && strings.HasPrefix(e.Text, "off: "):
			o.cause, o.causeAt = "the output went off: "+strings.TrimPrefix(e.Text, "off: "), e.Tick
		case strings.HasPrefix(e.Subject, "group ") && (e.Text == "off" || strings.HasPrefix(e.Text, "shed")) && o.causeAt != e.Tick:
			o.cause, o.causeAt = e.Subject+" went off", e.Tick
			if why, shed := strings.CutPrefix(e.Text, "shed: "); shed {
				o.cause = e.Subject + " was shed: " + why
			}
		}
	}
	o.measure(f.Site)
}

// host takes an event of a host.
func (o *observer) host(i int, at vtime.Tick, text string) {
	w := &o.hosts[i]
	switch {
	case strings.HasPrefix(text, "a gap of "):
		w.gap = true
		return
	case strings.HasSuffix(text, " waits for what it needs"):
		w.waits = true
		return
	case text == snap.HostCut.String():
		o.cutHost(i, at)
	}
	w.state, w.since, w.waits, w.gap = text, at, false, false
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
	if w.state == snap.HostStopping.String() {
		needs -= at - w.since
	}
	return max(needs, 1).Seconds() // what waits for something else would need longer
}

func (o *observer) doing(w *watched) string {
	switch {
	case w.waits:
		return w.state + ", waiting for what it needs"
	case w.state == snap.HostRunning.String():
		return "running, not told to stop"
	}
	return w.state
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

// measure follows what the battery has left while it carries a host at work.
func (o *observer) measure(s *snap.Site) {
	carries := s.UPS.Source == snap.SourceBattery && o.working(s)
	if o.carried {
		left := max(0, o.runtime-(s.Tick-o.at).Seconds()) // at the load until now
		if !carries {
			o.settle(left, s.ChargePct)
		}
	}
	o.at, o.carried, o.runtime = s.Tick, carries, s.TrueRuntimeS
}

// working says whether a host that lives on the unit alone is at work.
func (o *observer) working(s *snap.Site) bool {
	for i := range s.Hosts {
		switch s.Hosts[i].State {
		case snap.HostRunning, snap.HostStopping, snap.HostBooting:
			if o.hosts[i].onUPS {
				return true
			}
		}
	}
	return false
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
	if o.carried {
		o.settle(s.TrueRuntimeS, s.ChargePct)
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
