package serve

import (
	"net"
	"net/netip"
	"sync"
	"time"

	"ridethrough/sim/internal/core/path"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// gate knows which clients and receivers the card's network lets through, and
// which services the card's access list opens to them. It is safe for concurrent
// use.
type gate struct {
	plan  *plan.Plan
	site  func() *snap.Site
	peers map[netip.Addr]int // address of a real client: the peer that it plays
	real  bool               // clients have the addresses that they have
	away  *turnedAway
}

// newGate is the gate of a session.
func newGate(c *Config, p *plan.Plan, site func() *snap.Site) *gate {
	d := &gate{plan: p, site: site, peers: map[netip.Addr]int{}, real: c.Real, away: newTurnedAway()}
	for i := range p.Peers {
		if c.Real {
			d.peers[p.Peers[i].Address.Addr()] = i
		}
		if real, ok := c.Peers[p.Peers[i].Name]; ok {
			d.peers[real] = i
		}
	}
	return d
}

// admits says whether a client at a real address gets through to a service.
func (d *gate) admits(service string, from netip.Addr) bool {
	in, _ := d.judge(d.site(), service, from)
	return in
}

// judge is [gate.admits] for the site as it was; plain says that nothing was noted, so
// that it is the same again for the same site.
func (d *gate) judge(s *snap.Site, service string, from netip.Addr) (in, plain bool) {
	addr, open := d.client(s, from)
	if !open {
		return false, true
	}
	in, acted := s.Card.Quirks.LetsIn(&s.Card.Settings, service, addr)
	if acted {
		d.away.note("", netip.Addr{})
	}
	if !in {
		d.away.note(service, addr)
	}
	return in, in && !acted
}

// client is the address that a client at a real one has in the card's network, and
// whether packets pass.
func (d *gate) client(s *snap.Site, from netip.Addr) (addr netip.Addr, open bool) {
	if i, ok := d.peers[from.Unmap()]; ok {
		return d.plan.Peers[i].Address.Addr(), path.ToPeer(d.plan, &d.plan.Network, path.Of(s), i) == snap.PathOpen
	}
	return d.stranger(s, from)
}

// seen is the address of a client alone.
func (d *gate) seen(from netip.Addr) netip.Addr {
	addr, _ := d.client(d.site(), from)
	return addr
}

// stranger is a client of whom nobody said which peer it is. At the card's own
// address it is who it is, and the real network has let it through.
func (d *gate) stranger(s *snap.Site, from netip.Addr) (netip.Addr, bool) {
	if !d.real {
		return d.neighbour(s)
	}
	own := s.Card.Address.Prefix
	if from = from.Unmap(); from.Is6() {
		own = s.Card.Address.V6
	}
	return from.WithZone(""), own.IsValid() && d.forwards(s)
}

// forwards says whether the card's own switch forwards what the card sends.
func (d *gate) forwards(s *snap.Site) bool {
	at := d.plan.Network.Switch
	return !s.Net.VLAN && (at == plan.Core || s.Net.Dead>>at&1 == 0)
}

// owns says whether the card has an address at which it was spoken to.
func (d *gate) owns(at netip.Addr) bool {
	a := &d.site().Card.Address
	return !d.real || at.Unmap() == a.Prefix.Addr() || at == a.V6.Addr()
}

// neighbour is a client of whom nobody said which peer it is.
func (d *gate) neighbour(s *snap.Site) (netip.Addr, bool) {
	addr := path.Neighbour(&s.Card.Address)
	return addr, addr.IsValid() && d.forwards(s)
}

// reaches says whether what the card sends arrives at a receiver: at one that is
// no peer if its own port lets it out.
func (d *gate) reaches(to netip.Addr) bool {
	i := path.Peer(d.plan, to)
	return i < 0 && !d.site().Net.VLAN || i >= 0 && path.ToPeer(d.plan, &d.plan.Network, path.Of(d.site()), i) == snap.PathOpen
}

// door is a listener that lets in only whom the network lets through.
type door struct {
	net.Listener
	gate    *gate
	service string
	line    *line // nil: a perfect one
}

// Accept returns the next client that gets through. To the others the card is
// as if it were not there.
func (d door) Accept() (net.Conn, error) {
	for {
		c, err := d.Listener.Accept()
		if err != nil {
			return nil, err
		}
		guest := &guest{Conn: newSlowly(c, d.line, d.service), door: d, from: addressOf(c.RemoteAddr()), at: addressOf(c.LocalAddr())}
		if guest.through() {
			return guest, nil
		}
		c.Close()
	}
}

func addressOf(a net.Addr) netip.Addr {
	if tcp, ok := a.(*net.TCPAddr); ok {
		return tcp.AddrPort().Addr()
	}
	return netip.Addr{}
}

// guest is a connection that ends as soon as something is to pass that cannot.
type guest struct {
	net.Conn
	door door
	from netip.Addr
	at   netip.Addr // of the card
	last sync.Once
}

// lastWords is for how long a card that begins to restart, or whose access list has shut
// somebody out, still gets out what it was saying: who told it to is answered.
const lastWords = 500 * time.Millisecond

// lingers says whether what the card was saying still gets out to whom it lets in no
// more, and then has the connection end.
func (g *guest) lingers() bool {
	if s := g.door.gate.site(); s.Card.State != snap.CardBooting && !g.reached(s) {
		return false
	}
	g.last.Do(func() { time.AfterFunc(lastWords, func() { g.Conn.Close() }) })
	return true
}

// reached says whether packets pass, whatever the access list says.
func (g *guest) reached(s *snap.Site) bool {
	_, open := g.door.gate.client(s, g.from)
	return open && g.door.gate.owns(g.at)
}

func (g *guest) through() bool {
	return g.door.gate.owns(g.at) && g.door.gate.admits(g.door.service, g.from)
}

// Read gives what has arrived while the way was open. Nothing is taken from whom the card
// has its last words for; to close would take these from him.
func (g *guest) Read(p []byte) (int, error) {
	for {
		n, err := g.Conn.Read(p)
		if err != nil || g.through() {
			return n, err
		}
		if !g.lingers() {
			g.Conn.Close()
			return 0, net.ErrClosed
		}
	}
}

// Write sends if the way is open.
func (g *guest) Write(p []byte) (int, error) {
	if !g.through() && !g.lingers() {
		g.Conn.Close()
		return 0, net.ErrClosed
	}
	return g.Conn.Write(p)
}

// outlet is the way to a receiver: what cannot pass is lost without a word, as a
// datagram is.
type outlet struct {
	net.Conn
	open func() bool
}

// Write sends if the way is open.
func (o outlet) Write(p []byte) (int, error) {
	if !o.open() {
		return len(p), nil
	}
	return o.Conn.Write(p)
}
