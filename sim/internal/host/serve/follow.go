package serve

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"net"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/host/lan"
)

// again is after which time what could not be bound is tried once more.
const again = time.Second

// follower keeps the network surfaces at the card's own addresses, whatever these
// come to. Without --bind real there is none.
type follower struct {
	s      *served
	port   *lan.Port // on --interface; nil: addresses are the machine's
	wanted atomic.Pointer[reach]
	moved  chan struct{}
	said   string
}

// reach is how the card is reached.
type reach struct {
	address snap.Address
	at      vtime.Tick
}

func newFollower(s *served) *follower { return &follower{s: s, moved: make(chan struct{}, 1)} }

// plug puts the card on its interface, if it has one.
func (f *follower) plug() error {
	c := &f.s.c
	if c.Interface == "" {
		return nil
	}
	id := &f.s.plan.Card.Identity
	hardware, err := net.ParseMAC(id.Hardware)
	if err != nil {
		return &BindError{Surface: "interface", Address: c.Interface, Err: err}
	}
	var first [4]byte
	rand.Read(first[:]) // never fails
	client := lan.Client{Hardware: hardware, Name: hostName(id.SerialNumber), First: binary.BigEndian.Uint32(first[:])}
	if f.port, err = lan.Open(c.Interface, client, f.heard, c.Log); err != nil {
		return &BindError{Surface: "interface", Address: c.Interface, Err: err}
	}
	return nil
}

// hostName is a label as RFC 1123 has it.
func hostName(serial string) string {
	label := []byte("ups-card-" + serial)
	for i, c := range label {
		if !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9') {
			label[i] = '-'
		}
	}
	return string(label[:min(len(label), 63)])
}

// heard brings an answer to the engine, again while the inbox is full: nobody else
// will.
func (f *follower) heard(r snap.LeaseReply) {
	c := snap.Command{Op: snap.OpLease, Lease: &r, By: snap.Actor{Surface: "lan"}}
	for f.s.card.Submit(c).Status == snap.Busy {
		time.Sleep(time.Millisecond)
	}
}

// begin binds where the card is at the start. A lease of real servers comes later.
func (f *follower) begin(ctx context.Context, d *snap.Device) error {
	r := &reach{address: d.Card.Address, at: d.Tick}
	f.wanted.Store(r)
	if f.port != nil {
		if err := f.port.Hold(r.held()); err != nil {
			return &BindError{Surface: "interface", Address: f.s.c.Interface, Err: err}
		}
	}
	f.s.fronts.lead(r.address.Prefix.Addr())
	for _, at := range r.addresses() {
		if err := f.open(ctx, at); err != nil {
			return err
		}
	}
	return nil
}

func (f *follower) open(ctx context.Context, at netip.Addr) error {
	c := &f.s.c
	if !c.Expose && !at.IsLoopback() {
		return &ExposeError{Surface: "card", Address: at.String()}
	}
	front, err := f.s.fronts.openAt(ctx, at, c.Log)
	if err == nil && f.s.fronts.add(front) {
		f.s.open(front)
	}
	return err
}

// see is told of every frame, in the loop's goroutine.
func (f *follower) see(d *snap.Device) {
	if now := f.wanted.Load(); now.address == d.Card.Address {
		return
	}
	f.wanted.Store(&reach{address: d.Card.Address, at: d.Tick})
	select {
	case f.moved <- struct{}{}:
	default:
	}
}

// run follows the card until ctx is done.
func (f *follower) run(ctx context.Context) {
	for {
		var retry <-chan time.Time
		if !f.move(ctx) {
			retry = time.After(again)
		}
		select {
		case <-ctx.Done():
			return
		case <-f.moved:
		case <-retry:
		}
	}
}

// move closes what the card has left and binds where it is now; all says whether
// everything is in place. What fails is told once.
func (f *follower) move(ctx context.Context) (all bool) {
	r := f.wanted.Load()
	at := r.addresses()
	f.s.fronts.lead(r.address.Prefix.Addr())
	left := f.s.fronts.drop(func(x *front) bool { return !slices.Contains(at, x.at) })
	said := ""
	if f.port != nil {
		if err := f.port.Hold(r.held()); err != nil {
			said = err.Error()
		}
	}
	moved := false
	for _, a := range at {
		if f.s.fronts.has(a) {
			continue
		}
		moved = true
		if err := f.open(ctx, a); err != nil && ctx.Err() == nil {
			said = err.Error()
		}
	}
	if said != "" && said != f.said {
		f.s.c.Log(said)
	}
	if f.said = said; (moved || left > 0) && said == "" {
		f.s.c.Log(f.s.name() + " listens " + listed(f.s.fronts.endpoints()))
	}
	f.s.announceNow()
	return said == ""
}

func listed(e Endpoints) string {
	var at []string
	for _, x := range []struct{ surface, address string }{{"snmp", e.SNMP}, {"snmp", e.SNMPv6}, {"ssh", e.SSH}, {"ssh", e.SSHv6}} {
		if x.address != "" {
			at = append(at, x.surface+" "+x.address)
		}
	}
	if at == nil {
		return "nowhere: it has no address"
	}
	return "at " + strings.Join(at, ", ")
}

// addresses are those to listen at.
func (r *reach) addresses() []netip.Addr {
	return r.address.Each()
}

// held are those that the interface has to have.
func (r *reach) held() (list []lan.Address) {
	a := &r.address
	if a.Prefix.IsValid() {
		x := lan.Address{Prefix: a.Prefix}
		if until := a.Lease.Until; until > 0 && until != vtime.Never {
			x.Until, x.Lasts = strconv.FormatInt(int64(until), 10), max(until-r.at, 0).Duration()
		}
		list = append(list, x)
	}
	if a.Second.IsValid() {
		list = append(list, lan.Address{Prefix: netip.PrefixFrom(a.Second, a.Prefix.Bits())})
	}
	if a.V6.IsValid() {
		list = append(list, lan.Address{Prefix: a.V6})
	}
	return list
}
