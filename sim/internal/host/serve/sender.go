package serve

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"slices"
	"sync"
	"syscall"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
)

// sender sends notifications to the receivers in the card's settings that have an
// endpoint. Its methods are called from one goroutine at a time.
type sender struct {
	agent     *snmp.Agent
	endpoints map[netip.AddrPort]string
	submit    func(snap.Command) snap.Result
	targets   []*target
	followed  *snap.AlertSettings // that the targets were made of
	own       bool                // the card's addresses are this machine's: what is sent leaves from them
	log       func(string)
	said      map[string]bool
	reaches   func(netip.Addr) bool // nil: all are
	line      *line                 // nil: a perfect one
	later     pending
	request   int32
	buffer    []byte

	context    context.Context
	background sync.WaitGroup
	stop       context.CancelFunc
}

// target is one receiver.
type target struct {
	plan.Receiver
	set     snap.Receiver // what it was made of
	from    netip.Addr    // that it leaves from; not valid: this machine's choice
	version snmp.Version
	conn    net.Conn
	courier *courier // nil: it gets traps
	stop    context.CancelFunc
}

func openSender(ctx context.Context, c *Config, agent *snmp.Agent, submit func(snap.Command) snap.Result) *sender {
	ctx, stop := context.WithCancel(ctx)
	return &sender{agent: agent, endpoints: c.Receivers, submit: submit, log: c.Log, context: ctx, stop: stop}
}

// follow has the targets be those of the card's settings, and leave from its addresses: it
// leaves those alone that have not changed. One without an endpoint gets nothing: its
// address is simulated.
func (s *sender) follow(card *snap.Card) error {
	a := card.Settings.Alerting()
	if a == s.followed && !s.own {
		return nil
	}
	s.followed = a
	var kept []*target
	for _, t := range s.targets {
		if slices.Contains(a.Receivers, t.set) && t.from == s.source(&t.set, card) {
			kept = append(kept, t)
			continue
		}
		t.stop()
		t.conn.Close()
	}
	s.targets = kept
	for _, r := range a.Receivers {
		if slices.ContainsFunc(kept, func(t *target) bool { return t.set == r }) {
			continue
		}
		if err := s.open(r, s.source(&r, card)); err != nil {
			return err
		}
	}
	return nil
}

func (s *sender) open(r snap.Receiver, from netip.Addr) error {
	endpoint, ok := s.endpoints[r.To]
	if !ok {
		s.sayOnce("receiver " + r.To.String() + ": no endpoint is mapped to it, nothing is sent there")
		return nil
	}
	conn, err := s.dial(&r, from, endpoint)
	if conn == nil && err == nil {
		return nil
	}
	if err != nil {
		return &BindError{Surface: "receiver", Address: endpoint, Err: err}
	}
	if s.reaches != nil {
		to := r.To.Addr()
		conn = outlet{conn, func() bool { return s.reaches(to) }}
	}
	t := s.target(r, conn)
	t.from = from
	s.targets = append(s.targets, t)
	return nil
}

func (s *sender) target(r snap.Receiver, conn net.Conn) *target {
	ctx, stop := context.WithCancel(s.context)
	t := &target{set: r, conn: conn, stop: stop, Receiver: plan.Receiver{
		To: r.To, Version: r.Version, Community: r.Community.Reveal(), User: r.User, Inform: r.Inform, Retries: int(r.Retries), Timeout: r.Timeout,
	}}
	t.version, _ = snmp.VersionByName(r.Version) // the settings know no other
	t.Level, _ = snap.LevelByName(r.Level)
	if r.Inform {
		t.courier = newCourier(t.Receiver, conn, s.agent, s.submit, s.log)
		t.courier.line = s.line
		s.background.Go(t.courier.listen)
		s.background.Go(func() { t.courier.run(ctx) })
	}
	return t
}

// send runs in the loop's goroutine; neither a datagram nor a queue waits.
func (s *sender) send(n snap.Notification, card *snap.Card) {
	if err := s.follow(card); err != nil {
		s.sayOnce(err.Error())
	}
	receivers := card.Settings.Alerting().Receivers
	for _, t := range s.targets {
		at := slices.Index(receivers, t.set)
		if !card.Settings.Alerting().Addresses(n, t.set) || at >= 0 && n.Held(at) {
			continue
		}
		s.request++
		e := snmp.Envelope{
			Version: t.version, Community: t.Community, User: t.User, Level: t.Level,
			RequestID: s.request, AgentAddr: agentAddr(t.set.Source, card),
		}
		if err := s.give(t, e, n, n.Lost(at)); err != nil {
			s.log(fmt.Sprintf("receiver %v: %v: %v", t.To, n.Kind, err))
		}
	}
}

// give has it leave for one receiver, or get lost on the card's link, as the engine says.
func (s *sender) give(t *target, e snmp.Envelope, n snap.Notification, lost bool) error {
	if t.courier != nil {
		inform, err := s.agent.Inform(e, n)
		if err == nil {
			t.courier.put(inform, lost)
		}
		return err
	}
	out, err := s.agent.Notification(s.buffer, e, n)
	if err == nil {
		s.buffer = out
		s.leave(t.conn, out, lost) // whether it arrived, only the receiver knows
	}
	return err
}

// leave sends a trap, once it is over the card's link.
func (s *sender) leave(to net.Conn, datagram []byte, lost bool) {
	if lost {
		return
	}
	if late := s.line.late("notify", false); late > 0 {
		own := bytes.Clone(datagram)
		s.later.after(late, func() { post(to, own) })
		return
	}
	post(to, datagram)
}

// post sends a datagram. That the port refused the one before it shows only now, and
// keeps this one from leaving: by now somebody may listen there.
func post(to net.Conn, datagram []byte) {
	if _, err := to.Write(datagram); errors.Is(err, syscall.ECONNREFUSED) {
		to.Write(datagram)
	}
}

func (s *sender) close() {
	s.stop()
	s.later.close()
	for _, t := range s.targets {
		t.conn.Close()
	}
	s.background.Wait()
}
