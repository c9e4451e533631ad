package sink

import (
	"context"
	"fmt"
	"net"
	"net/netip"
	"sync"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// Bounds of each sink, in real time.
const (
	maxSessions = 32               // at once; more are turned away
	maxMessage  = 1 << 20          // bytes of a mail
	maxDatagram = 64 << 10         // bytes of a datagram, and of a syslog message over TCP
	patience    = 30 * time.Second // for a line, a frame or a handshake
	longest     = 5 * time.Minute  // for a session of mail
	slowest     = time.Minute      // that takes may come to
)

// Config is what sinks need of a session.
type Config struct {
	Plan    *plan.Plan
	Site    func() *snap.Site
	Submit  func(snap.Command) snap.Result
	Speed   func() float64       // simulated seconds in a real one
	Elapsed func() time.Duration // real time since the session began
	Log     func(string)
}

// Set is the sinks of a session.
type Set struct {
	c     Config
	cert  *Certificate
	sinks []*sink
	ctx   context.Context
	stop  context.CancelFunc
}

// Endpoint is where a sink really is.
type Endpoint struct {
	Name, Kind string
	At         netip.AddrPort // simulated
	Address    string         // host:port
}

// sink is one of them. A receiver of notifications has udp alone, a relay tcp alone,
// a collector both at one port.
type sink struct {
	set      *Set
	cfg      *plan.Server
	tcp      net.Listener
	udp      *net.UDPConn
	room     chan struct{} // a place for each session
	sessions sync.WaitGroup
	mu       sync.Mutex
	open     map[net.Conn]struct{}
	closed   bool
}

// Open binds the sinks of the plan that are not mapped elsewhere, each at a free port
// of 127.0.0.1. It serves nobody yet.
func Open(c Config, mapped func(netip.AddrPort) bool) (*Set, error) {
	s := &Set{c: c}
	s.ctx, s.stop = context.WithCancel(context.Background())
	for i := range c.Plan.Servers {
		cfg := &c.Plan.Servers[i]
		if !cfg.Sink || mapped(netip.AddrPortFrom(cfg.Address, cfg.Port)) {
			continue
		}
		if s.cert == nil {
			var err error
			if s.cert, err = newCertificate(c.Plan.Servers); err != nil {
				return nil, err
			}
		}
		k := &sink{set: s, cfg: cfg, room: make(chan struct{}, maxSessions), open: map[net.Conn]struct{}{}}
		if err := k.bind(); err != nil {
			s.Close()
			return nil, fmt.Errorf("sink %s: %w", cfg.Name, err)
		}
		s.sinks = append(s.sinks, k)
	}
	return s, nil
}

// tries is how often a port is looked for that is free for TCP and UDP.
const tries = 20

func (k *sink) bind() (err error) {
	loopback := net.IPv4(127, 0, 0, 1)
	for range tries {
		port := 0
		if k.cfg.Kind != plan.ServerSNMP {
			if k.tcp, err = net.ListenTCP("tcp4", &net.TCPAddr{IP: loopback}); err != nil {
				return err
			}
			port = k.tcp.Addr().(*net.TCPAddr).Port
		}
		if k.cfg.Kind == plan.ServerMail {
			return nil
		}
		if k.udp, err = net.ListenUDP("udp4", &net.UDPAddr{IP: loopback, Port: port}); err == nil {
			return nil
		}
		if k.tcp != nil {
			k.tcp.Close()
			k.tcp = nil
		}
	}
	return err
}

// Endpoints is where they are, in the order of the plan.
func (s *Set) Endpoints() (list []Endpoint) {
	for _, k := range s.sinks {
		e := Endpoint{Name: k.cfg.Name, Kind: string(k.cfg.Kind), At: netip.AddrPortFrom(k.cfg.Address, k.cfg.Port)}
		if e.Address = k.address(); e.Address != "" {
			list = append(list, e)
		}
	}
	return list
}

func (k *sink) address() string {
	if k.tcp != nil {
		return k.tcp.Addr().String()
	}
	return k.udp.LocalAddr().String()
}

// Certificate is the one that they show, nil if there are no sinks.
func (s *Set) Certificate() *Certificate { return s.cert }

// Serve has them serve, each surface by a run of guard, until Close.
func (s *Set) Serve(guard func(surface string, run func())) {
	for _, k := range s.sinks {
		name := "sink " + k.cfg.Name
		switch k.cfg.Kind {
		case plan.ServerMail:
			relay := newRelay(k)
			guard(name, func() { k.accept(guard, relay.talk) })
		case plan.ServerSyslog:
			guard(name, k.collect)
			guard(name, func() { k.accept(guard, k.stream) })
		default:
			guard(name, newReceiver(k).run)
		}
	}
}

// Close ends them and waits for their sessions.
func (s *Set) Close() {
	s.stop()
	for _, k := range s.sinks {
		if k.tcp != nil {
			k.tcp.Close()
		}
		if k.udp != nil {
			k.udp.Close()
		}
		k.hangUp()
	}
	for _, k := range s.sinks {
		k.sessions.Wait()
	}
}

// state is how the sink is at present.
func (k *sink) state() *snap.Sink {
	sinks := k.set.c.Site().Sinks
	for i := range sinks {
		if sinks[i].Name == k.cfg.Name {
			return &sinks[i]
		}
	}
	return &snap.Sink{} // it is not up yet
}

// arrive tells the engine what arrived, or why it is turned away, and is what its
// sender is told. It waits as long as the server takes.
func (k *sink) arrive(from net.Addr, a *snap.Arrival, why string) snap.Result {
	c := snap.Command{Op: snap.OpArrive, Host: k.cfg.Name, OK: why == "", Text: why, Arrival: a, By: snap.Actor{Surface: "sink", Peer: from.String()}}
	for {
		r := k.set.c.Submit(c)
		if r.Status != snap.Busy || !k.pause(time.Millisecond) {
			return r
		}
	}
}

// takes is how long the server takes to answer, in real time.
func (k *sink) takes() time.Duration {
	speed := k.set.c.Speed()
	if speed <= 0 {
		speed = 1
	}
	return min(time.Duration(float64(k.state().Takes.Duration())/speed), slowest)
}

// pause waits, unless the session ends.
func (k *sink) pause(d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-k.set.ctx.Done():
		return false
	case <-t.C:
		return true
	}
}
