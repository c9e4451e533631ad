package site

import (
	"fmt"

	"ridethrough/sim/internal/core/path"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// traffic is what became of what the card sends, and the link over which it goes. Most
// sites never have any.
type traffic struct {
	acked, unacked snap.Sent // informs
	usm            usmCounts
	link           link
}

// link is the card's link where it is not the one that everybody takes for granted.
type link struct {
	set    plan.Link
	agreed path.Agreement
	now    *snap.Carriage // as it is shown; nil: perfect
	other  bool           // the ends carry different VLANs
	draws  map[string]func() float64
	burst  snap.Burst
	lost   uint32
	port   *snap.Port // as it is shown; nil: as everybody takes it for granted
}

// traffic is made when it is first needed.
func (s *Site) ownTraffic() *traffic {
	if s.traffic == nil {
		s.traffic = &traffic{link: link{set: s.self.Network.Link, agreed: path.Negotiate(snap.LinkAuto, snap.LinkAuto)}}
	}
	return s.traffic
}

// badLink is the link if something befalls what goes over it, else nil.
func (s *Site) badLink() *link {
	if s.traffic == nil || s.traffic.link.now == nil {
		return nil
	}
	return &s.traffic.link
}

// bringUp has the port come to what its end and the other are set to.
func (s *Site) bringUp(now vtime.Tick) {
	set := s.card.InForce().Link()
	mode := set.PortMode()
	if s.traffic == nil && mode == snap.LinkAuto && set.VLAN == 0 && s.self.Network.Link.Plain() {
		return
	}
	l := &s.ownTraffic().link
	agreed, other := path.Negotiate(mode, l.set.Mode), set.VLAN != l.set.VLAN
	if p := (snap.Port{Mode: mode, Mbit: agreed.Mbit, Half: agreed.CardHalf, VLAN: set.VLAN}); l.portNow() != p {
		l.see(p)
		s.stale = true
	}
	s.carry()
	if agreed != l.agreed || other != l.other {
		l.agreed, l.other = agreed, other
		s.carry()
		s.note("link", l.tells(set.VLAN))
		s.isolate()
		s.linkCard(now)
	}
}

// portNow is the port as it is shown, but for what it has counted.
func (l *link) portNow() snap.Port {
	p := *l.port.OrGood()
	p.InErrors, p.OutErrors, p.LateCollisions = 0, 0, 0
	return p
}

// see shows the port as p, which goes on counting.
func (l *link) see(p snap.Port) {
	was := l.port.OrGood()
	p.InErrors, p.OutErrors, p.LateCollisions = was.InErrors, was.OutErrors, was.LateCollisions
	l.port = &p
}

// carry works out anew how the link carries.
func (s *Site) carry() {
	l := &s.traffic.link
	c := l.set.Carries(l.agreed.Differ())
	switch {
	case c.Perfect():
		l.now = nil
	case l.now == nil || *l.now != c:
		l.now = &c
	}
	s.card.LoseLeases(c.LossPct)
}

// tells is what the two ends came to.
func (l *link) tells(vlan int) string {
	a, text := l.agreed, "no link: the two ends are set to different speeds"
	if a.Mbit > 0 {
		text = fmt.Sprintf("%d Mbit/s, the card %s, the switch %s", a.Mbit, duplex(a.CardHalf), duplex(a.PortHalf))
	}
	if a.Differ() {
		text += ": they differ in duplex"
	}
	if l.other {
		text += fmt.Sprintf("; VLAN of the card %s, of the switch %s: nothing passes", vlanText(vlan), vlanText(l.set.VLAN))
	}
	return text
}

func duplex(half bool) string {
	if half {
		return "half duplex"
	}
	return "full duplex"
}

func vlanText(n int) string {
	if n == 0 {
		return "none"
	}
	return fmt.Sprint(n)
}

// isolated says whether the ends of the link carry different VLANs.
func (s *Site) isolated() bool { return s.traffic != nil && s.traffic.link.other }

// isolate cuts the card off from the address server and the router if what it sends
// does not get to them.
func (s *Site) isolate() {
	s.card.CutServer(s.serverCut())
	s.card.Route(!s.isolated() && !s.net.noRouter)
}

// serverCut says whether nothing passes between the card and the address server.
func (s *Site) serverCut() bool {
	own := s.self.Network
	return s.isolated() || !path.Alive(s.plan, s.net.dead, own.Switch, own.ServerAt)
}

// countLeases counts what was lost of what the card and an address server said.
func (s *Site) countLeases() {
	out, in := s.card.LostLeases()
	if out > 0 {
		s.lose(snap.DamageOnLine, outward, out)
	}
	if in > 0 {
		s.lose(snap.DamageOnLine, inward, in)
	}
}

// changeLink is the timeline's.
func (s *Site) changeLink(now vtime.Tick, c *plan.LinkChange) {
	l := &s.ownTraffic().link
	set := func(to *float64, from *float64, text string) {
		if from != nil {
			*to = *from
			s.note("bench", fmt.Sprintf(text, *from))
		}
	}
	set(&l.set.LossPct, c.LossPct, "the card's link loses %g %%")
	set(&l.set.BurstLossPct, c.BurstLossPct, "the card's link loses %g %% of what comes in a burst")
	if c.Delay != nil {
		l.set.Delay = *c.Delay
		s.note("bench", "the card's link takes "+c.Delay.String()+" each way")
	}
	if c.Jitter != nil {
		l.set.Jitter = *c.Jitter
		s.note("bench", "the card's link takes up to "+c.Jitter.String()+" more")
	}
	if c.Mode != nil {
		l.set.Mode = *c.Mode
		s.note("bench", "the switch's port is set to "+string(*c.Mode))
	}
	if c.VLAN != nil {
		l.set.VLAN = *c.VLAN
		s.note("bench", "the switch's port carries VLAN "+vlanText(*c.VLAN))
	}
	s.bringUp(now)
}

// countAnew begins the counters of the port anew with each start of the agent.
func (s *Site) countAnew() {
	if s.traffic == nil || s.traffic.link.port == nil {
		return
	}
	p := s.traffic.link.portNow()
	s.traffic.link.port = &p
	s.stale = true
}

// throw is the next of the draws of that name, of [0, 1).
func (s *Site) throw(name string) float64 {
	l := &s.traffic.link
	if l.draws == nil {
		l.draws = map[string]func() float64{}
	}
	if l.draws[name] == nil {
		l.draws[name] = rng.Stream(s.self.Seed, "link/"+name).Float64
	}
	return l.draws[name]()
}

// Ways over the link, from the card's side.
const (
	inward  = true
	outward = false
)

// loses says whether a packet of that kind of traffic is lost on the card's link.
func (s *Site) loses(kind string, in bool) bool {
	l := s.badLink()
	if l == nil || l.now.LossPct <= 0 && l.now.BurstLossPct <= 0 {
		return false
	}
	burst := l.now.BurstLossPct > 0 && l.burst.Bears(s.now, l.now.BurstOver, l.now.BurstWithin)
	return s.damaged(l, kind, in, burst)
}

// losesAlone is loses for a packet that comes in no burst.
func (s *Site) losesAlone(kind string, in bool) bool {
	l := s.badLink()
	if l == nil || l.now.LossPct <= 0 {
		return false
	}
	return s.damaged(l, kind, in, false)
}

// damaged draws what befalls a packet, and counts it.
func (s *Site) damaged(l *link, kind string, in, burst bool) bool {
	d := l.now.Befalls(s.throw(kind), burst)
	if d != snap.NoDamage {
		s.lose(d, in, 1)
	}
	return d != snap.NoDamage
}

// lose counts packets that were lost.
func (s *Site) lose(d snap.Damage, in bool, n uint32) {
	l := &s.ownTraffic().link
	l.lost += n
	p := *l.port.OrGood()
	was := p
	if p.Counts(d, in, l.agreed.Differ(), n); p != was {
		l.port = &p
	}
	s.stale = true
}

// takes is how long a packet of that kind of traffic is on the link.
func (s *Site) takes(kind string) vtime.Tick {
	l := s.badLink()
	if l == nil || !l.now.Slow() {
		return 0
	}
	t := l.now.Delay
	if l.now.Jitter > 0 {
		t += vtime.Tick(s.throw(kind+"/late") * float64(l.now.Jitter+1))
	}
	return t
}

// exchange is a request over UDP, into the card or out of it, that whoever asks repeats,
// and its answer, for which the other side takes so long: serve is what it does about a request that gets there. It
// says whether an answer came within the time that a try has, and how long all of it took.
func (s *Site) exchange(kind string, in bool, tries int, timeout, works vtime.Tick, serve func()) (ok bool, took vtime.Tick) {
	for range tries {
		if s.loses(kind, in) {
			took += timeout
			continue
		}
		serve()
		back := s.loses(kind, !in)
		if whole := works + s.takes(kind) + s.takes(kind); !back && whole <= timeout {
			return true, took + whole
		}
		took += timeout
	}
	return false, took
}

// overTCP is how much longer a conversation of that many segments, half of them each
// way, takes on the link. What is lost is sent again, so that it costs time alone; not
// ok is one in which a segment was lost again and again.
func (s *Site) overTCP(kind string, segments int) (late vtime.Tick, ok bool) {
	if s.badLink() == nil {
		return 0, true
	}
	for i := range segments {
		in := i%2 == 1
		again, ok := snap.Resend(func(vtime.Tick) bool { return s.loses(kind, in) })
		late += s.takes(kind) + again
		if !ok {
			return late, false
		}
	}
	return late, true
}

// lostWords are how a surface tells what it has lost; see [snap.OpLost].
var lostWords = map[string]struct {
	damage snap.Damage
	in     bool
}{
	"in": {snap.DamageOnLine, inward}, "out": {snap.DamageOnLine, outward},
	"burst-in": {snap.DamageInBurst, inward}, "burst-out": {snap.DamageInBurst, outward},
}

// mostLost bounds what one command may tell.
const mostLost = 1 << 24

// lostOutside takes up what a surface has lost. The command may come from a journal, so
// that it may hold anything.
func (s *Site) lostOutside(c snap.Command) snap.Result {
	w, known := lostWords[c.Text]
	if !known || c.Code < 1 || c.Code > mostLost {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no way %q on which %d packets get lost", c.Text, c.Code)}
	}
	s.lose(w.damage, w.in, uint32(c.Code))
	return snap.Result{}
}
