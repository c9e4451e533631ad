package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// policy is the modelled shutdown manager: software somewhere on the network
// that knows nothing but what the card answers when it is polled.
type policy struct {
	cfg    *plan.Policy
	stage  snap.PolicyStage
	silent bool       // the card did not take the last order; again with the next poll
	mine   bool       // the output is off by its order or after battery operation
	called bool       // for service
	held   bool       // stopped for a reason that the return of the mains does not end: off until somebody says
	onWord bool       // it armed no start when it ordered the output off
	begun  uint16     // times that it has begun to stop hosts
	next   vtime.Tick // next poll, or the next deadline of a host; Never without a policy
	poll   vtime.Tick

	since   vtime.Tick // own clock: when it first saw battery operation; Never
	agree   int        // polls in a row with a trigger
	orders  []order    // one for each host
	offAt   vtime.Tick // when the output goes off as it was ordered; Never: not ordered
	offSeen vtime.Tick // when it saw the output off; Never

	lastRuntime, lastCharge float64 // believed last; 0: none yet
	polls                   uint64
	before                  reading // of the poll before, for a policy that acts on it
}

func newPolicy(cfg *plan.Policy, hosts int) policy {
	p := policy{cfg: cfg, next: vtime.Never, poll: vtime.Never, since: vtime.Never}
	if cfg != nil {
		p.next, p.poll = cfg.Poll, cfg.Poll
		p.orders = make([]order, hosts)
		p.forget()
	}
	return p
}

// forget arms the policy again.
func (p *policy) forget() {
	p.stage, p.agree, p.held, p.onWord = snap.PolicyWatching, 0, false, false
	p.offAt, p.offSeen = vtime.Never, vtime.Never
	for i := range p.orders {
		p.orders[i] = order{told: vtime.Never}
	}
}

func (s *Site) runPolicy(now vtime.Tick) {
	p := &s.policy
	if p.cfg == nil {
		return
	}
	if p.poll <= now {
		p.poll = now + p.cfg.Poll
		p.silent = false
		s.decide(now, s.read(now))
	}
	if p.stage == snap.PolicyStopping {
		s.stopHosts(now)
	}
	p.next = min(p.poll, s.nextGiveUp(now))
}

// decide acts on one poll.
func (s *Site) decide(now vtime.Tick, r reading) {
	p := &s.policy
	r = p.believe(r)
	if r.batteryFailed && !p.called {
		p.called = true
		s.note("policy", "calls for service: the battery failed its test")
	}
	told := r.ok && (r.known || p.cfg.UnknownIsMains) // what feeds the output
	switch {
	case r.ok && r.outputOff:
		s.restart(now, r)
		return
	case p.stage == snap.PolicyRestarting && told:
		s.rearm("the output is on again")
	case told && p.offAt <= now && !r.counting:
		s.rearm("the output was off and is on again")
	}
	why := p.due(now, r)
	switch p.stage {
	case snap.PolicyWatching, snap.PolicyConfirming:
		s.confirm(now, why)
	case snap.PolicyStopping, snap.PolicyOffOrdered:
		if told && !r.onBattery && !p.held && s.mainsBack(now) {
			return
		}
		if r.ok && !r.counting && p.offAt != vtime.Never && !p.cfg.TrustOrder {
			s.note("policy", "the countdown is gone")
			s.orderOff(now)
		}
	}
}

// believe fills in what silence means, and an answer that does not tell what feeds
// the output: after battery operation was seen each is taken for more of it, unless
// the policy is told to take it for mains.
func (p *policy) believe(r reading) reading {
	if p.since == vtime.Never {
		return r
	}
	switch {
	case !r.ok:
		r.onBattery = !p.cfg.IgnoreSilence
	case !r.known:
		r.onBattery = !p.cfg.UnknownIsMains
	}
	return r
}

func (p *policy) keepTime(now vtime.Tick, r reading) {
	switch {
	case !r.onBattery:
		p.since = vtime.Never
	case p.since == vtime.Never:
		p.since = now
	}
}

// due says why the site has to be stopped, and goes on counting the outage.
func (p *policy) due(now vtime.Tick, r reading) string {
	if !p.cfg.LastSample {
		p.keepTime(now, r)
		return p.triggered(now, r)
	}
	why := p.triggered(now, p.before)
	p.before = r
	p.keepTime(now, r)
	return why
}

// triggered says why the site has to be stopped, "" if it has not.
func (p *policy) triggered(now vtime.Tick, r reading) string {
	cfg := p.cfg
	elapsed := now - p.since
	if cfg.CardTimer {
		elapsed = r.timer
	}
	if r.onBattery && cfg.OnBatteryFor > 0 && elapsed >= cfg.OnBatteryFor {
		return "long enough on battery"
	}
	if r.hot {
		return tooWarm
	}
	if !r.ok || !r.onBattery && !cfg.EvenOnMains {
		return ""
	}
	switch {
	case cfg.RuntimeBelow > 0 && r.hasRuntime && r.runtime < cfg.RuntimeBelow:
		return "runtime below the limit"
	case r.hasCharge && r.chargePct < cfg.ChargeBelow:
		return "charge below the limit"
	case cfg.OnLowBattery && r.lowBattery:
		return "the card says low battery"
	}
	return ""
}

func (s *Site) confirm(now vtime.Tick, why string) {
	p := &s.policy
	if why == "" || p.begun > 0 && p.cfg.FirstOutage {
		if p.stage == snap.PolicyConfirming {
			s.stage(snap.PolicyWatching, "trigger gone")
		}
		p.agree = 0
		return
	}
	p.agree++
	if p.agree < p.cfg.Confirm {
		if p.stage != snap.PolicyConfirming {
			s.stage(snap.PolicyConfirming, why)
		}
		return
	}
	s.commit(now, why, why == tooWarm)
}

// commit has the policy stop the site, once.
func (s *Site) commit(now vtime.Tick, why string, held bool) {
	p := &s.policy
	p.begun++
	p.held = held
	s.stage(snap.PolicyStopping, why)
	if p.cfg.OffWhen == "at-once" {
		s.orderOff(now)
	}
}

// mainsBack decides whether to go on although the mains have returned. Past the
// first order to a host the cycle is finished: a stopped host on a live outlet
// would stay down. It says whether the policy cancels, which it goes on to try with each
// poll until the card has answered; meanwhile the shutdown goes on.
func (s *Site) mainsBack(now vtime.Tick) (cancels bool) {
	p := &s.policy
	begun := false
	for _, o := range p.orders {
		begun = begun || o.told != vtime.Never && !o.refused
	}
	if p.cfg.OnReturn == plan.ReturnIgnore || p.cfg.OnReturn == plan.ReturnFinish && begun {
		return false
	}
	if s.order(now, snap.Assignment{Var: snap.VarShutdownAfter, Int: -1}, snap.Assignment{Var: snap.VarStartupAfter, Int: -1}) {
		s.rearm("cancelled: the mains are back")
	}
	return true
}

// rearm has the policy watch for the next outage.
func (s *Site) rearm(why string) {
	s.stage(snap.PolicyWatching, why)
	s.policy.forget()
}

func (s *Site) stage(to snap.PolicyStage, why string) {
	s.policy.stage = to
	s.note("policy", to.String()+": "+why)
}
