package serve

import (
	"context"
	"fmt"
	"net"
	"net/netip"
	"sync"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
)

// sender sends notifications to the receivers that have an endpoint.
type sender struct {
	agent   *snmp.Agent
	targets []target
	log     func(string)
	request int32
	buffer  []byte

	background sync.WaitGroup
	stop       context.CancelFunc
}

// target is one receiver.
type target struct {
	plan.Receiver
	version snmp.Version
	conn    net.Conn
	courier *courier // nil: it gets traps
}

// openSender connects to the endpoint of every receiver. One without an
// endpoint gets nothing: its address is simulated.
func openSender(ctx context.Context, c *Config, agent *snmp.Agent, submit func(snap.Command) snap.Result) (*sender, error) {
	ctx, stop := context.WithCancel(ctx)
	s := &sender{agent: agent, log: c.Log, stop: stop}
	for _, r := range c.Plan.Card.Receivers {
		endpoint, ok := c.Receivers[r.To]
		if !ok {
			c.Log("receiver " + r.To.String() + ": no endpoint is mapped to it, nothing is sent there")
			continue
		}
		conn, err := (&net.Dialer{}).DialContext(ctx, "udp", endpoint)
		if err != nil {
			s.close()
			return nil, &BindError{Surface: "receiver", Address: endpoint, Err: err}
		}
		s.targets = append(s.targets, s.target(ctx, r, conn, submit))
	}
	return s, nil
}

func (s *sender) target(ctx context.Context, r plan.Receiver, conn net.Conn, submit func(snap.Command) snap.Result) target {
	t := target{Receiver: r, conn: conn}
	t.version, _ = snmp.VersionByName(r.Version) // the scenario knows no other
	if r.Inform {
		t.courier = newCourier(r, conn, s.agent, submit, s.log)
		s.background.Go(t.courier.listen)
		s.background.Go(func() { t.courier.run(ctx) })
	}
	return t
}

// send runs in the loop's goroutine; neither a datagram nor a queue waits.
func (s *sender) send(n snap.Notification, from netip.Addr) {
	for i := range s.targets {
		t := &s.targets[i]
		s.request++
		e := snmp.Envelope{
			Version: t.version, Community: t.Community, User: t.User, Level: t.Level,
			RequestID: s.request, AgentAddr: from,
		}
		if err := s.give(t, e, n); err != nil {
			s.log(fmt.Sprintf("receiver %v: %v: %v", t.To, n.Kind, err))
		}
	}
}

func (s *sender) give(t *target, e snmp.Envelope, n snap.Notification) error {
	if t.courier != nil {
		inform, err := s.agent.Inform(e, n)
		if err == nil {
			t.courier.put(inform)
		}
		return err
	}
	out, err := s.agent.Notification(s.buffer, e, n)
	if err == nil {
		s.buffer = out
		t.conn.Write(out) // whether it arrived, only the receiver knows
	}
	return err
}

func (s *sender) close() {
	s.stop()
	for _, t := range s.targets {
		t.conn.Close()
	}
	s.background.Wait()
}
