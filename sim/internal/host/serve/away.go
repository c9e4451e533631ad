package serve

import (
	"context"
	"net/netip"
	"sync"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/pace"
)

// mostSources bounds the addresses that are told to the card one by one.
const mostSources = 32

// turnedAway counts whom the access list turns away until the card is told, once a
// second at most: a flood costs the engine next to nothing. It is safe for concurrent
// use.
type turnedAway struct {
	mu     sync.Mutex
	counts map[seeker]int
	some   chan struct{}
}

// seeker is who sought a service; without an address many. Without a service it is who
// got in past the list, because of a quirk.
type seeker struct {
	service string
	from    netip.Addr
}

func newTurnedAway() *turnedAway {
	return &turnedAway{counts: map[seeker]int{}, some: make(chan struct{}, 1)}
}

func (t *turnedAway) note(service string, from netip.Addr) {
	t.mu.Lock()
	defer t.mu.Unlock()
	k := seeker{service, from}
	if _, known := t.counts[k]; !known && len(t.counts) >= mostSources {
		k.from = netip.Addr{}
	}
	t.counts[k]++
	select {
	case t.some <- struct{}{}:
	default:
	}
}

// run tells the card until ctx is done.
func (t *turnedAway) run(ctx context.Context, submit func(snap.Command) snap.Result) {
	pace.Seldom(ctx, t.some, func() {
		for k, n := range t.take() {
			c := snap.Command{Op: snap.OpTurnAway, Text: k.service, Code: n, By: snap.Actor{Surface: "gate"}}
			if k.service == "" {
				c.Op, c.Text = snap.OpQuirk, snap.QuirkListOfV4.String()
			}
			if k.from.IsValid() {
				c.By.Peer = k.from.String()
			}
			submit(c) // a card that is too busy misses some
		}
	})
}

func (t *turnedAway) take() map[seeker]int {
	t.mu.Lock()
	defer t.mu.Unlock()
	all := t.counts
	t.counts = map[seeker]int{}
	return all
}
