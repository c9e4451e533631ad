package serve

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"sync"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
)

const (
	// datagram bounds what is read of one message; a longer one is cut, and then does
	// not decode.
	datagram = 64 << 10
	// queued bounds the informs that wait for one receiver. Of more the oldest
	// are given up: the newest tell how things are.
	queued = 64
	// replies bounds the messages of a receiver that wait to be looked at.
	replies = 16
	// corrections bounds how often one attempt is sent anew at once because the
	// receiver told something of its engine: discovery, time, another engine.
	corrections = 4
	// longestWait bounds the time between two attempts.
	longestWait = time.Minute
)

// courier brings informs to one receiver, one after the other, each until it is
// acknowledged or given up.
type courier struct {
	to     plan.Receiver
	conn   net.Conn
	agent  *snmp.Agent
	peer   *snmp.Peer
	submit func(snap.Command) snap.Result
	log    func(string)

	heard chan []byte
	wake  chan struct{}
	mu    sync.Mutex
	queue []*snmp.Inform
	lost  snap.Sent // given up because the queue was full, by kind
}

func newCourier(to plan.Receiver, conn net.Conn, agent *snmp.Agent, submit func(snap.Command) snap.Result, log func(string)) *courier {
	return &courier{
		to: to, conn: conn, agent: agent, peer: agent.NewPeer(), submit: submit, log: log,
		heard: make(chan []byte, replies), wake: make(chan struct{}, 1),
	}
}

// put queues i; it never waits.
func (c *courier) put(i *snmp.Inform) {
	c.mu.Lock()
	if len(c.queue) == queued {
		c.lost[c.queue[0].Kind]++
		c.queue = c.queue[1:]
	}
	c.queue = append(c.queue, i)
	c.mu.Unlock()
	select {
	case c.wake <- struct{}{}:
	default:
	}
}

// take is the next inform, or nil, and what was lost since the last call.
func (c *courier) take() (next *snmp.Inform, lost snap.Sent) {
	c.mu.Lock()
	defer c.mu.Unlock()
	lost, c.lost = c.lost, snap.Sent{}
	if len(c.queue) > 0 {
		next, c.queue = c.queue[0], c.queue[1:]
	}
	return next, lost
}

// listen hands over what the receiver sends, until the connection is closed. A
// port that refuses shows here as an error, and is waited for like silence.
func (c *courier) listen() {
	b := make([]byte, datagram)
	for {
		n, err := c.conn.Read(b)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			continue
		}
		select {
		case c.heard <- bytes.Clone(b[:n]):
		default: // a flood; what matters will be repeated
		}
	}
}

// run delivers what is put, until ctx ends.
func (c *courier) run(ctx context.Context) {
	for {
		inform, lost := c.take()
		for kind, n := range lost {
			for range n {
				c.tell(snap.NotifyKind(kind), false, "too many wait for this receiver")
			}
		}
		if inform != nil {
			c.deliver(ctx, inform)
			continue
		}
		select {
		case <-ctx.Done():
			return
		case <-c.wake:
		}
	}
}

// deliver repeats the inform, ever more slowly, until it is acknowledged or given
// up.
func (c *courier) deliver(ctx context.Context, i *snmp.Inform) {
	why, wait := "no answer", c.to.Timeout.Duration()
	for range c.to.Retries + 1 {
		if !c.agent.Holds(i) {
			why = "the card went away"
			break
		}
		done, reason := c.attempt(ctx, i, wait)
		if done {
			c.tell(i.Kind, true, "")
			return
		}
		if ctx.Err() != nil {
			return
		}
		if reason != "" {
			why = reason
		}
		wait = min(2*wait, longestWait)
	}
	c.peer.Forget() // perhaps what we know of the receiver is what is wrong
	c.log(fmt.Sprintf("receiver %v: %v not acknowledged: %s", c.to.To, i.Kind, why))
	c.tell(i.Kind, false, why)
}

// attempt sends the inform once and waits. A refusal does not end the waiting: the
// receiver may be mended until the next attempt.
func (c *courier) attempt(ctx context.Context, i *snmp.Inform, wait time.Duration) (done bool, why string) {
	timer := time.NewTimer(wait)
	defer timer.Stop()
	c.conn.Write(c.peer.Message(i)) // a refused port counts as silence
	for left := corrections; ; {
		select {
		case <-ctx.Done():
			return false, why
		case <-timer.C:
			return false, why
		case message := <-c.heard:
			answer, reason := c.peer.Hear(message, i)
			switch {
			case answer == snmp.Acknowledged:
				return true, ""
			case answer == snmp.Refused:
				why = reason
			case answer == snmp.SendAgain && left > 0:
				left--
				c.conn.Write(c.peer.Message(i))
			}
		}
	}
}

// tell lets the bench know what became of an inform.
func (c *courier) tell(kind snap.NotifyKind, acknowledged bool, why string) {
	r := c.submit(snap.Command{
		Op: snap.OpAck, Notify: kind, OK: acknowledged, Text: why,
		By: snap.Actor{Surface: "snmp", Peer: c.to.To.String()},
	})
	if r.Status != snap.Done && r.Status != snap.Gone {
		c.log(fmt.Sprintf("receiver %v: %v: the bench was not told: %s", c.to.To, kind, r.Reason))
	}
}
