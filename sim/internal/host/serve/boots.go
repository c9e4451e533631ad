package serve

import (
	"slices"
	"sync"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/host/fleet"
	"ridethrough/sim/internal/host/memory"
)

// bootKeeper keeps the boots of a fleet; it is a [fleet.Keeper]. What comes while it
// writes is written together after that: all cards may start at once.
type bootKeeper struct {
	store  *memory.Store
	groups []fleet.Group
	failed func(error)

	mu      sync.Mutex
	boots   map[string]card.FleetBoots // by the serial number that devices are made after
	changed map[string]bool
	given   uint64 // tickets
	done    uint64
	over    bool      // nothing more is written
	written sync.Cond // done has risen, or over

	wake   chan struct{}
	writer sync.WaitGroup
	once   sync.Once // close
}

// newBootKeeper keeps boots, one more for every device of the groups, and then what
// comes. failed is told once of an error, after which nothing more is written.
func newBootKeeper(store *memory.Store, groups []fleet.Group, boots map[string]card.FleetBoots, failed func(error)) (*bootKeeper, error) {
	k := &bootKeeper{
		store: store, groups: groups, failed: failed,
		boots: map[string]card.FleetBoots{}, changed: map[string]bool{}, wake: make(chan struct{}, 1),
	}
	k.written.L = &k.mu
	for i := range groups {
		g, serial := &groups[i], groups[i].Plan.Card.Identity.SerialNumber
		if k.boots[serial] == nil {
			k.boots[serial] = slices.Clone(boots[serial])
		}
		k.boots[serial] = k.boots[serial].Raise(g.First, g.Count)
		k.changed[serial] = true
	}
	if err := k.write(); err != nil {
		return nil, err
	}
	k.writer.Go(k.run)
	return k, nil
}

// Keep implements [fleet.Keeper].
func (k *bootKeeper) Keep(n int, boots uint32) (ticket uint64) {
	i := slices.IndexFunc(k.groups, func(g fleet.Group) bool { return n < g.First+g.Count })
	serial := k.groups[i].Plan.Card.Identity.SerialNumber
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.over {
		return k.done
	}
	k.boots[serial][n-1] = boots
	k.changed[serial] = true
	k.given++
	select {
	case k.wake <- struct{}{}:
	default:
	}
	return k.given
}

// Wait implements [fleet.Keeper].
func (k *bootKeeper) Wait(ticket uint64) {
	k.mu.Lock()
	defer k.mu.Unlock()
	for k.done < ticket && !k.over {
		k.written.Wait()
	}
}

func (k *bootKeeper) run() {
	for range k.wake {
		if err := k.write(); err != nil {
			k.end()
			k.failed(err)
			return
		}
	}
}

// write writes all that has changed.
func (k *bootKeeper) write() error {
	k.mu.Lock()
	given, changed := k.given, map[string]card.FleetBoots{}
	for serial := range k.changed {
		changed[serial] = slices.Clone(k.boots[serial])
	}
	clear(k.changed)
	k.mu.Unlock()
	for serial, boots := range changed {
		if err := k.store.Card(serial).Change(boots.Keep()); err != nil {
			return err
		}
	}
	k.mu.Lock()
	k.done = given
	k.written.Broadcast()
	k.mu.Unlock()
	return nil
}

func (k *bootKeeper) end() {
	k.mu.Lock()
	k.over = true
	k.written.Broadcast()
	k.mu.Unlock()
}

// close writes what is left, if there is a keeper. Nobody may call Keep any more.
func (k *bootKeeper) close() {
	if k == nil {
		return
	}
	k.once.Do(func() {
		close(k.wake)
		k.writer.Wait()
		k.end()
	})
}
