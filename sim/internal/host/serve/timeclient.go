package serve

import (
	"context"
	"net/netip"
	"sync"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/timeclient"
)

// timePort is the port of the network time protocol (RFC 5905).
const timePort = 123

// timeClient asks real time servers in the place of simulated ones.
type timeClient struct {
	endpoints map[netip.Addr]string
	submit    func(snap.Command) snap.Result
	pending   chan struct{} // bounds the questions under way
	asking    sync.WaitGroup
}

// newTimeClient asks those of the plan's time servers that have an endpoint.
func newTimeClient(c *Config, p *plan.Plan, submit func(snap.Command) snap.Result) *timeClient {
	t := &timeClient{endpoints: map[netip.Addr]string{}, submit: submit, pending: make(chan struct{}, 16)}
	for _, s := range p.TimeServers {
		if endpoint, ok := c.Receivers[netip.AddrPortFrom(s.Address, timePort)]; ok {
			t.endpoints[s.Address] = endpoint
		}
	}
	return t
}

// announce tells the engine which servers are real. It waits for the loop.
func (t *timeClient) announce() {
	for address := range t.endpoints {
		t.tell(snap.Command{Op: snap.OpTimeReal, Time: &snap.TimeReply{Server: address}})
	}
}

// tell submits c, again while the inbox is full: nobody else will.
func (t *timeClient) tell(c snap.Command) {
	c.By = snap.Actor{Surface: "time"}
	for t.submit(c).Status == snap.Busy {
		time.Sleep(time.Millisecond)
	}
}

// ask never waits. The answer goes to the engine; of too many questions at once the
// last get none, as if it had been lost.
func (t *timeClient) ask(ctx context.Context, q snap.TimeQuery) {
	endpoint, ok := t.endpoints[q.Server]
	if !ok {
		return
	}
	select {
	case t.pending <- struct{}{}:
	default:
		return
	}
	t.asking.Go(func() {
		defer func() { <-t.pending }()
		reply := timeclient.Query(ctx, endpoint)
		reply.Server, reply.Round = q.Server, q.Round
		t.tell(snap.Command{Op: snap.OpTime, Time: &reply})
	})
}

func (t *timeClient) close() { t.asking.Wait() }
