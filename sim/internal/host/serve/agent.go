package serve

import (
	"context"
	"errors"
	"net"
	"net/netip"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
)

// datagram bounds what is read of one request; a longer one is cut, and then
// does not decode.
const datagram = 64 << 10

// readers is how many requests are worked on at once: reads do not wait behind
// a write that waits for the engine.
const readers = 4

// answerSNMP answers requests on conn until it is closed.
func answerSNMP(agent *snmp.Agent, conn *net.UDPConn) {
	in, out := make([]byte, datagram), make([]byte, 0, 2*snmp.DefaultMaxSize)
	for {
		n, peer, err := conn.ReadFromUDPAddrPort(in)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			continue // a peer that is gone is reported here; it is not our end
		}
		if reply := agent.Handle(in[:n], peer.String(), out); len(reply) > 0 {
			conn.WriteToUDPAddrPort(reply, peer)
		}
	}
}

// sender sends notifications to the receivers that have an endpoint.
type sender struct {
	agent   *snmp.Agent
	targets []target
	log     func(string)
	request int32
	buffer  []byte
}

type target struct {
	plan.Receiver
	conn net.Conn
}

// openSender connects to the endpoint of every receiver. One without an
// endpoint gets nothing: its address is simulated.
func openSender(ctx context.Context, c *Config, agent *snmp.Agent) (*sender, error) {
	s := &sender{agent: agent, log: c.Log}
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
		s.targets = append(s.targets, target{Receiver: r, conn: conn})
	}
	return s, nil
}

// send runs in the loop's goroutine; a datagram does not wait.
func (s *sender) send(n snap.Notification, from netip.Addr) {
	for _, t := range s.targets {
		s.request++
		version := snmp.V2c
		if t.Version == "v1" {
			version = snmp.V1
		}
		out, err := s.agent.Notification(s.buffer[:0], snmp.Envelope{
			Version: version, Community: t.Community, RequestID: s.request, AgentAddr: from,
		}, n)
		if err != nil {
			s.log("receiver " + t.To.String() + ": " + err.Error())
			continue
		}
		s.buffer = out
		t.conn.Write(out) // whether it arrived, only the receiver knows
	}
}

func (s *sender) close() {
	for _, t := range s.targets {
		t.conn.Close()
	}
}
