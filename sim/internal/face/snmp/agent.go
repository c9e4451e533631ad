package snmp

import (
	"context"
	"sync"
	"sync/atomic"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// Sizes of messages in octets.
const (
	// DefaultMaxSize keeps a reply within one Ethernet frame.
	DefaultMaxSize = 1472
	// MinMaxSize is what every SNMP entity must be able to send (RFC 3417 section 3.2).
	MinMaxSize = 484
)

// Agent answers SNMP requests for one card. It is safe for concurrent use; make
// one with [New].
type Agent struct {
	source   snap.Source
	maxSize  int
	counters model.Counters
	boots    atomic.Uint32 // of the card when the counters were last reset
	accused  atomic.Int64  // tick of the last report of a wrong community
	reports  chan snap.Command
	workers  sync.Pool
}

// New is an agent that reads from and writes to source. Its replies are of at
// most maxSize octets: 0 means DefaultMaxSize, less than MinMaxSize that.
func New(source snap.Source, maxSize int) *Agent {
	if maxSize == 0 {
		maxSize = DefaultMaxSize
	}
	a := &Agent{source: source, maxSize: max(maxSize, MinMaxSize), reports: make(chan snap.Command, 1)}
	a.accused.Store(-int64(vtime.Second))
	a.workers.New = func() any { return new(worker) }
	return a
}

// Run carries reports of wrong communities to the engine until ctx ends. Handle
// never waits for it: without Run they are not reported.
func (a *Agent) Run(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case c := <-a.reports:
			a.source.Submit(c)
		}
	}
}

// Handle answers the request that came from peer. The reply is appended to
// out[:0]; an empty one means silence. It allocates nothing for reads if out has
// room, and waits for the engine only to write.
func (a *Agent) Handle(request []byte, peer string, out []byte) []byte {
	out = out[:0]
	dev, now := a.source.Device(), a.source.Now()
	if !answers(&dev.Card) {
		return out
	}
	a.restart(dev.Card.Boots)
	a.counters.Add(model.InPkts, 1)

	w := a.workers.Get().(*worker)
	defer a.workers.Put(w)
	w.agent, w.peer, w.counters = a, peer, &a.counters
	w.view.Dev, w.view.Now, w.view.Counters = dev, now, &a.counters
	if !w.admit(request) {
		return out
	}
	out = w.answer(out)
	if len(out) > 0 {
		a.counters.Add(model.OutPkts, 1)
		a.counters.Add(model.OutGetResponses, 1)
	}
	return out
}

// Notification encodes n for one receiver as [EncodeNotification] does, from the
// present state, and counts it. What it returns may be sent again as it is.
func (a *Agent) Notification(out []byte, e Envelope, n snap.Notification) ([]byte, error) {
	dev, now := a.source.Device(), a.source.Now()
	a.restart(dev.Card.Boots)
	out, err := EncodeNotification(out, e, n, &model.View{Dev: dev, Now: now, Counters: &a.counters})
	if err == nil {
		a.counters.Add(model.OutPkts, 1)
		a.counters.Add(model.OutTraps, 1)
	}
	return out, err
}

// answers says whether the card's agent runs and can be reached.
func answers(c *snap.Card) bool {
	return c.State == snap.CardRunning && c.Address.Reachable()
}

// restart begins to count again if the card has started anew.
func (a *Agent) restart(boots uint32) {
	if old := a.boots.Load(); boots > old && a.boots.CompareAndSwap(old, boots) {
		a.counters.Reset()
	}
}

// accuse reports a wrong community, at most once in a simulated second so that
// a flood of them cannot keep the engine busy.
func (a *Agent) accuse(now vtime.Tick, peer string) {
	last := a.accused.Load()
	if int64(now)-last < int64(vtime.Second) || !a.accused.CompareAndSwap(last, int64(now)) {
		return
	}
	select {
	case a.reports <- snap.Command{Op: snap.OpAuthFail, By: actor(peer)}:
	default:
	}
}

func actor(peer string) snap.Actor { return snap.Actor{Surface: "snmp", Peer: peer} }

// worker is what one request needs; it is kept to be used again.
type worker struct {
	agent    *Agent
	peer     string
	counters *model.Counters
	msg      ber.Message
	view     model.View
	mayWrite bool

	frame   [3]int   // marks of the reply's message, PDU and list
	cursors []cursor // of a get-bulk
}
