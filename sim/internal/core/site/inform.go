package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// flight is a notification on its way to a modelled sink, or to any receiver if it takes
// its time on the card's link or is an inform whose first try is lost there. A trap is tried once; an inform until it
// is acknowledged or given up. The time to wait is real in a live session, and simulated
// here.
type flight struct {
	to      *server // nil: no sink
	what    snap.Notification
	issued  vtime.Tick
	lost    bool // its next try, on the card's link
	heard   bool // by peers and the monitoring manager
	set     snap.Receiver
	arrival snap.Arrival
	tries   int
	wait    vtime.Tick
	next    vtime.Tick
	ackAt   vtime.Tick // when an acknowledgement comes; Never
}

// Bounds, as a live session has them.
const (
	transit     = vtime.Millisecond // time on the way; by then a live session has said which sinks are real
	mostFlights = 64 * snap.MaxReceivers
	longestWait = vtime.Minute
)

func (f *flight) due() vtime.Tick { return min(f.next, f.ackAt) }

// arrivals is what all sinks of a site have in common.
type arrivals struct {
	flights  []flight    // on their way
	informed int         // informs sent to them
	shown    []snap.Sink // as they were handed out last
}

func (a *arrivals) due() vtime.Tick {
	next := vtime.Never
	for i := range a.flights {
		next = min(next, a.flights[i].due())
	}
	return next
}

// launch sends the message once more.
func (s *Site) launch(now vtime.Tick, f flight) {
	f.tries++
	acked := s.lands(now, &f)
	if !f.set.Inform || f.to == nil && acked {
		return
	}
	if acked {
		f.ackAt = min(f.ackAt, now+max(f.to.now.Takes+s.takes("notify"), 1))
	}
	if f.wait = min(2*f.wait, longestWait); f.tries == 1 {
		f.wait = f.set.Timeout
	}
	f.next = now + max(f.wait, 1)
	s.servers.sinks.flights = append(s.servers.sinks.flights, f)
	s.touch()
}

// lands has the message arrive, and says whether its sender is told so.
func (s *Site) lands(now vtime.Tick, f *flight) (acked bool) {
	v, a := f.to, f.arrival
	if f.tries > 1 {
		f.lost = s.loses("notify", outward)
	}
	switch {
	case f.lost && v != nil:
		s.tellOfSink(v, "lost on the card's link: "+told(&a))
		return false
	case f.lost:
		return false
	case !f.heard:
		f.reach(s)
	}
	if v == nil {
		return true // as far as anybody is modelled
	}
	if !s.serves(v) || v.now.Answer == plan.AnswerClosed {
		return false
	}
	if why := v.cfg.Stranger(f.set); why != "" {
		s.turnAway(v, &a, why)
		return false
	}
	if o := v.converse(now, call{}); o.Outcome != snap.Delivered {
		s.turnAway(v, &a, o.Reason)
		return false
	}
	return !s.keep(now, v, &a) && v.now.Acks == plan.AcksAll && !s.loses("notify", inward)
}

// runFlights ends what was acknowledged or is given up, and repeats the rest.
func (s *Site) runFlights(now vtime.Tick) {
	k := s.servers.sinks
	if k == nil || len(k.flights) == 0 {
		return
	}
	list := k.flights
	k.flights = nil
	for _, f := range list {
		switch {
		case f.ackAt <= now:
			s.answeredInform(f, true, "")
		case f.next > now:
			s.servers.sinks.flights = append(s.servers.sinks.flights, f)
		case f.tries == 0:
			s.launch(now, f)
		case f.tries > int(f.set.Retries):
			s.answeredInform(f, false, "no answer")
		case !s.card.Running():
			s.answeredInform(f, false, "the card went away")
		default:
			s.launch(now, f)
		}
	}
}

func (s *Site) answeredInform(f flight, ok bool, why string) {
	if f.to == nil {
		return // whoever is real tells by itself
	}
	s.delivered(snap.Command{Op: snap.OpAck, Notify: f.what.Kind, OK: ok, Text: why, By: snap.Actor{Surface: "snmp", Peer: f.set.To.String()}})
}
