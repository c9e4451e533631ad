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

	line  *line // nil: a perfect one
	later pending

	heard chan []byte
	wake  chan struct{}
	mu    sync.Mutex
	queue []errand
	lost  snap.Sent // given up because the queue was full, by kind
}

// errand is an inform that waits. The engine has said whether it gets lost on the card's
// link when it is first sent; of what is sent after that the link says it.
type errand struct {
	*snmp.Inform
	lost bool
}

func newCourier(to plan.Receiver, conn net.Conn, agent *snmp.Agent, submit func(snap.Command) snap.Result, log func(string)) *courier {
	return &courier{
		to: to, conn: conn, agent: agent, peer: agent.NewPeer(), submit: submit, log: log,
		heard: make(chan []byte, replies), wake: make(chan struct{}, 1),
	}
}

// put queues i, which may get lost the first time; it never waits.
func (c *courier) put(i *snmp.Inform, lost bool) {
	c.mu.Lock()
	if len(c.queue) == queued {
		c.lost[c.queue[0].Kind]++
		c.queue = c.queue[1:]
	}
	c.queue = append(c.queue, errand{i, lost})
	c.mu.Unlock()
	select {
	case c.wake <- struct{}{}:
	default:
	}
}

// take is the next inform, none if it has none, and what was lost since the last call.
func (c *courier) take() (next errand, lost snap.Sent) {
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
		late, ok := c.line.passes("notify", true)
		switch message := bytes.Clone(b[:n]); {
		case !ok:
		case late > 0:
			c.later.after(late, func() { c.hear(message) })
		default:
			c.hear(message)
		}
	}
}

func (c *courier) hear(message []byte) {
	select {
	case c.heard <- message:
	default: // a flood; what matters will be repeated
	}
}

// leave sends a message over the card's link; a refused port counts as silence.
func (c *courier) leave(message []byte, late time.Duration) {
	if late > 0 {
		own := bytes.Clone(message)
		c.later.after(late, func() { c.conn.Write(own) })
		return
	}
	c.conn.Write(message)
}

// again sends one of which the engine has not said what becomes of it.
func (c *courier) again(message []byte) {
	if late, ok := c.line.passes("notify", false); ok {
		c.leave(message, late)
	}
}

// first sends one of which it has.
func (c *courier) first(message []byte, lost bool) {
	if !lost {
		c.leave(message, c.line.late("notify", false))
	}
}

// run delivers what is put, until ctx ends.
func (c *courier) run(ctx context.Context) {
	defer c.later.close()
	for {
		next, lost := c.take()
		for kind, n := range lost {
			for range n {
				c.tell(snap.NotifyKind(kind), false, "too many wait for this receiver")
			}
		}
		if next.Inform != nil {
			c.deliver(ctx, next)
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
func (c *courier) deliver(ctx context.Context, next errand) {
	i := next.Inform
	why, wait := "no answer", c.to.Timeout.Duration()
	for try := range c.to.Retries + 1 {
		if !c.agent.Holds(i) {
			why = "the card went away"
			break
		}
		if message := c.peer.Message(i); try == 0 {
			c.first(message, next.lost)
		} else {
			c.again(message)
		}
		done, reason := c.await(ctx, i, wait)
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

// await waits for what the receiver says to an attempt. A refusal does not end the
// waiting: the receiver may be mended until the next attempt.
func (c *courier) await(ctx context.Context, i *snmp.Inform, wait time.Duration) (done bool, why string) {
	timer := time.NewTimer(wait)
	defer timer.Stop()
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
				c.again(c.peer.Message(i))
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
