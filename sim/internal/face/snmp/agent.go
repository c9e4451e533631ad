package snmp

import (
	"context"
	"sync"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/usm"
)

// Sizes of messages in octets.
const (
	// DefaultMaxSize keeps a reply within one Ethernet frame.
	DefaultMaxSize = 1472
	// MinMaxSize is what every SNMP entity must be able to send (RFC 3417 section 3.2).
	MinMaxSize = 484
)

// Config is what an agent can be made with; the zero value is fine.
type Config struct {
	// MaxSize is the greatest message in octets: 0 means DefaultMaxSize, less
	// than MinMaxSize that.
	MaxSize int
	// Clock is real time since anything; it is asked where the card's engine
	// time is to follow it. Nil: never.
	Clock func() time.Duration
	// Salt is where the salts of encrypted messages begin. Let it be random: the
	// same salt must not come again with the same key.
	Salt uint64
	// Masters may be shared by agents whose users share passwords; nil: its own.
	Masters *usm.Masters
	// Objects is what there is to read, asked for each request; nil: what the source's
	// card has. See [model.RecordedVariables].
	Objects func() []*model.Variable
}

// Agent answers SNMP requests for one card. It is safe for concurrent use; make
// one with [New].
type Agent struct {
	source   snap.Source
	maxSize  int
	clock    func() time.Duration
	counters model.Counters
	begun    atomic.Pointer[start]
	ring     atomic.Pointer[keyring]
	masters  *usm.Masters
	salt     atomic.Uint64            // the last one used
	messages atomic.Int32             // the last msgID used
	accused  atomic.Int64             // tick of the last report of a wrong community
	reports  chan *snap.Command       // by pointer: most agents of a fleet never have any
	odd      atomic.Pointer[oddities] // nil while the card never had a quirk
	objects  func() []*model.Variable // nil: those of the card
}

// New is an agent that reads from and writes to source.
func New(source snap.Source, c Config) *Agent {
	if c.MaxSize == 0 {
		c.MaxSize = DefaultMaxSize
	}
	if c.Masters == nil {
		c.Masters = new(usm.Masters)
	}
	a := &Agent{
		source: source, maxSize: max(c.MaxSize, MinMaxSize), clock: c.Clock, masters: c.Masters, objects: c.Objects,
		reports: make(chan *snap.Command, 1),
	}
	a.salt.Store(c.Salt)
	a.accused.Store(-int64(vtime.Second))
	return a
}

// Run carries reports of wrong communities and of quirks that acted to the engine
// until ctx ends. Answer never waits for it: without Run they are not reported.
func (a *Agent) Run(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case c := <-a.reports:
			a.source.Submit(*c)
		}
	}
}

// Report is what Run would carry to the engine next, for who does without it; ok
// is false if there is nothing. It does not wait.
func (a *Agent) Report() (c snap.Command, ok bool) {
	select {
	case c := <-a.reports:
		return *c, true
	default:
		return c, false
	}
}

// Caller is who sent a request.
type Caller interface {
	// String names it for what is written down. It is asked for nothing else, so
	// that a request that leaves no trace makes no text.
	String() string
	// Wait is told that the agent is about to wait for the engine, as it does to
	// write and for nothing else.
	Wait()
}

// named is a caller of whom no more is known.
type named string

func (n named) String() string { return string(n) }
func (named) Wait()            {}

// Handle is [Agent.Answer] for a caller that is only a name.
func (a *Agent) Handle(request []byte, peer string, out []byte) []byte {
	out, _ = a.Answer(request, named(peer), out)
	return out
}

// Answer answers the request that came from caller. The reply is appended to
// out[:0]; an empty one means silence. It leaves at once, unless quirks of the
// card have it otherwise. A request of SNMPv3 is decrypted where it is. Answer
// allocates nothing for reads of SNMPv1 and SNMPv2c if out has room, and waits for
// the engine only to write: what it reads is in the snapshot, which it takes
// without a lock if the source does.
func (a *Agent) Answer(request []byte, caller Caller, out []byte) ([]byte, Delivery) {
	dev, now := a.source.Device(), a.source.Now()
	switch {
	case !answers(&dev.Card):
		return out[:0], Delivery{}
	case dev.Card.Quirks != nil:
		return a.oddAnswer(dev, now, request, caller, out[:0])
	}
	w := workers.Get().(*worker)
	defer workers.Put(w)
	return w.reply(a, dev, now, request, caller, out[:0]), Delivery{}
}

// reply is the message that answers the request.
func (w *worker) reply(a *Agent, dev *snap.Device, now vtime.Tick, request []byte, caller Caller, out []byte) []byte {
	begun := a.restart(&dev.Card, now)
	a.counters.Add(model.InPkts, 1)
	a.counters.Add(model.InOctets, len(request))

	w.agent, w.caller, w.counters = a, caller, &a.counters
	w.engine = model.Engine{Time: a.engineTime(&dev.Card, now, begun), MaxSize: a.maxSize}
	w.view.Quirks, w.view.Acted = dev.Card.Quirks, 0
	w.returned = 0
	w.view.Dev, w.view.Now, w.view.Counters, w.view.Engine = dev, now, &a.counters, &w.engine
	if a.objects != nil {
		w.view.objects = a.objects()
	} else {
		w.view.objects = model.ServedBy(&dev.Card)
	}
	w.reported = false
	out = w.handle(request, out)
	if len(out) > 0 {
		a.sent(out)
		if !w.reported {
			a.counters.Add(model.OutGetResponses, 1)
		}
	}
	return out
}

// sent counts a message that leaves.
func (a *Agent) sent(message []byte) {
	a.counters.Add(model.OutPkts, 1)
	a.counters.Add(model.OutOctets, len(message))
}

// answers says whether the card's agent runs and can be reached.
func answers(c *snap.Card) bool {
	return c.State == snap.CardRunning && c.Address.Reachable()
}

// accuse reports a wrong community or, with a fault, a request of SNMPv3 that is not
// taken, at most once in a simulated second so that a flood of them cannot keep the
// engine busy.
func (a *Agent) accuse(now vtime.Tick, caller Caller, f snap.USMFault) {
	last := a.accused.Load()
	if int64(now)-last < int64(vtime.Second) || !a.accused.CompareAndSwap(last, int64(now)) {
		return
	}
	select {
	case a.reports <- &snap.Command{Op: snap.OpAuthFail, Code: int(f), By: actor(caller)}:
	default:
	}
}

func actor(c Caller) snap.Actor { return snap.Actor{Surface: "snmp", Peer: c.String()} }

// workers serve the agents of all cards.
var workers = sync.Pool{New: func() any { return new(worker) }}

// worker is what one request needs; it is kept to be used again.
type worker struct {
	agent     *Agent
	caller    Caller
	counters  *model.Counters
	msg       ber.Message
	view      scope
	engine    model.Engine
	views     *snap.Views
	permitted bool // the security level is high enough

	frame   [3]int // marks of the reply's message, PDU and list
	limit   int    // greatest reply
	closing int    // the most that closing it adds
	cursors []cursor

	r3       request3 // of SNMPv3
	sealed   sealed   // its reply
	reported bool     // which is a Report

	returned int  // variables that a get-bulk came to
	oddID    bool // the reply gets another request-id
}
