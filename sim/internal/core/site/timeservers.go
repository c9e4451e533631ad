package site

import (
	"cmp"
	"fmt"
	"net/netip"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// timeServer is one time server of the site, and the answers that are under way
// from it.
type timeServer struct {
	cfg     *plan.TimeServer
	silent  bool
	wrongBy vtime.Tick
	stratum int
	real    bool // somebody outside asks a real one in its place
	answers []timeAnswer
}

type timeAnswer struct {
	at    vtime.Tick // when it comes in
	round int
	off   vtime.Tick // the error of a way there that is not as long as the way back: RFC 5905 section 8
}

func newTimeServers(p *plan.Plan) []timeServer {
	list := make([]timeServer, len(p.TimeServers))
	for i := range list {
		cfg := &p.TimeServers[i]
		list[i] = timeServer{cfg: cfg, silent: cfg.Silent, wrongBy: cfg.WrongBy, stratum: cfg.Stratum}
	}
	return list
}

func (t *timeServer) deadline() vtime.Tick {
	next := vtime.Never
	for _, a := range t.answers {
		next = min(next, a.at)
	}
	return next
}

func (s *Site) timeServer(at netip.Addr) *timeServer {
	i := slices.IndexFunc(s.timeServers, func(t timeServer) bool { return t.cfg.Address == at })
	if i < 0 {
		return nil
	}
	return &s.timeServers[i]
}

// askTime has a server of the site answer, or somebody outside ask a real one.
// Where there is none, it has no power or no packets pass, there is no answer.
func (s *Site) askTime(now vtime.Tick, q snap.TimeQuery) {
	t := s.timeServer(q.Server)
	switch {
	case t == nil, !s.passes(q.Server), s.loses("time", outward):
	case s.loses("time", inward): // what the server would say
	case t.real:
		s.emit(snap.Effect{Kind: snap.EffectTime, Time: &q})
	case !t.silent && (t.cfg.Group < 0 || s.groups[t.cfg.Group].on):
		there, back := s.takes("time"), s.takes("time")
		a := timeAnswer{at: now + t.cfg.Delay + there + back, round: q.Round, off: (there - back) / 2}
		at, _ := slices.BinarySearchFunc(t.answers, a.at+1, func(x timeAnswer, at vtime.Tick) int { return cmp.Compare(x.at, at) })
		t.answers = slices.Insert(t.answers, at, a)
	}
}

// runTimeServers delivers the answers that are due.
func (s *Site) runTimeServers(now vtime.Tick) {
	for i := range s.timeServers {
		t := &s.timeServers[i]
		for len(t.answers) > 0 && t.answers[0].at <= now {
			date := snap.StampOf(s.plan.Start) + snap.Stamp(now+t.wrongBy+t.answers[0].off)
			s.card.TimeReply(now, snap.TimeReply{Server: t.cfg.Address, Round: t.answers[0].round, Date: date, Stratum: t.stratum})
			t.answers = t.answers[1:]
		}
	}
}

// technician is somebody at the card's serial line.
func (s *Site) technician() snap.Actor {
	return snap.Actor{Surface: "serial", User: s.plan.Card.User, Role: snap.Administrator}
}

// changeTimeServer is the timeline's.
func (s *Site) changeTimeServer(c *plan.TimeChange) {
	t := &s.timeServers[c.Server]
	text := ""
	if c.Answers != nil {
		t.silent = !*c.Answers
		text += snap.Either(*c.Answers, ", answers", ", silent")
	}
	if c.WrongBy != nil {
		t.wrongBy = *c.WrongBy
		text += fmt.Sprintf(", wrong by %s", t.wrongBy.Duration())
	}
	if c.Stratum != nil {
		t.stratum = *c.Stratum
		text += fmt.Sprintf(", stratum %d", t.stratum)
	}
	s.noteOnce("time server "+t.cfg.Name, text[2:])
}

// timeReal is told that somebody outside asks a real server from now on.
func (s *Site) timeReal(c snap.Command) snap.Result {
	t := (*timeServer)(nil)
	if c.Time != nil {
		t = s.timeServer(c.Time.Server)
	}
	if t == nil {
		return snap.Result{Status: snap.WrongValue, Reason: "the site has no such time server"}
	}
	t.real, t.answers = true, nil
	s.note("time server "+t.cfg.Name, "a real one is asked")
	return snap.Result{}
}

func (s *Site) timeReply(c snap.Command) snap.Result {
	if c.Time == nil {
		return snap.Result{Status: snap.WrongValue, Reason: "no answer in it"}
	}
	s.card.TimeReply(s.now, *c.Time)
	return snap.Result{}
}
