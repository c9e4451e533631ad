package fleet

import (
	"container/heap"
	"context"
	"errors"
	"fmt"
	"net/netip"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/face/usm"
	"ridethrough/sim/internal/host/pace"
	"ridethrough/sim/internal/host/ports"
)

// Fleet is many devices, bound and ready to run.
type Fleet struct {
	clock   *pace.Clock
	elapsed func() time.Duration // of the clock
	keep    bool
	log     func(string)
	masters *usm.Masters
	keeper  Keeper // nil: nothing is kept
	groups  []group
	shards  []*shard
	total   int
	each    int // devices of a shard; the last may have fewer

	running atomic.Int32 // shards with runs that have not ended
	told    atomic.Int32 // complaints
}

// Open makes and binds every device of c. Whatever was opened is closed if it
// fails. The error is a *ports.LimitError, a *BindError, ports.ErrUnsupported or
// that of a plan.
func Open(c Config) (*Fleet, error) {
	f := &Fleet{clock: c.Clock, elapsed: c.Clock.Elapsed, keep: c.Keep, log: c.Log, masters: new(usm.Masters), total: c.Devices()}
	if err := ports.Room(f.total); err != nil {
		return nil, err
	}
	for i := range c.Groups {
		g, err := f.group(&c, i)
		if err != nil {
			return nil, err
		}
		f.groups = append(f.groups, g)
	}
	for try := 1; ; try++ {
		err := f.split(&c)
		if err == nil {
			return f, nil
		}
		f.Close()
		f.shards = nil
		if !c.picksPort() || try == tries || !errors.Is(err, syscall.EADDRINUSE) {
			return nil, err
		}
	}
}

// tries is how many free ports are tried: one that is free at the first address may be
// taken at another.
const tries = 10

func (f *Fleet) group(c *Config, i int) (group, error) {
	g := group{Group: &c.Groups[i], runFor: c.Groups[i].Plan.RunFor}
	for i, r := range g.Plan.Card.Receivers {
		endpoint, ok := c.Receivers[r.To]
		if !ok {
			f.log("receiver " + r.To.String() + ": no endpoint is mapped to it, nothing is sent there")
			continue
		}
		t := target{Receiver: r, number: uint8(i + 1), endpoint: endpoint}
		t.version, _ = snmp.VersionByName(r.Version) // the scenario knows no other
		g.targets = append(g.targets, t)
	}
	var err error
	if g.model, _, err = engine.New(g.Plan, once(g.Inject)); err == nil {
		g.model.CompileWith(oneAtATime(g.Compile))
	}
	return g, err
}

// split makes the shards, all at once.
func (f *Fleet) split(c *Config) error {
	f.each = (f.total + c.Shards - 1) / c.Shards
	port, err := f.commonPort(c)
	if err != nil {
		return err
	}
	for first := 0; first < f.total; first += f.each {
		set, err := ports.NewSet()
		if err != nil {
			return err
		}
		s := &shard{
			fleet: f, set: set, units: make([]unit, min(f.each, f.total-first)),
			in: make([]byte, datagram), out: make([]byte, 0, 2*snmp.DefaultMaxSize),
		}
		f.shards = append(f.shards, s)
	}
	f.running.Store(int32(len(f.shards)))
	errs := make([]error, len(f.shards))
	var all sync.WaitGroup
	for i, s := range f.shards {
		all.Go(func() { errs[i] = s.fill(c, i*f.each, port) })
	}
	all.Wait()
	return errors.Join(errs...)
}

// picksPort says whether a free port has to be found that all devices have.
func (c *Config) picksPort() bool { return !c.Ports && c.First.Port() == 0 }

// commonPort is the port that all devices have; a free one has to be found first.
func (f *Fleet) commonPort(c *Config) (uint16, error) {
	if !c.picksPort() {
		return c.First.Port(), nil
	}
	set, err := ports.NewSet()
	if err != nil {
		return 0, err
	}
	defer set.Close()
	_, at, err := set.Open(c.First, 0)
	if err != nil {
		return 0, &BindError{c.First, err}
	}
	return at.Port(), nil
}

// fill makes the devices of a shard, which are those from the one after first on.
func (s *shard) fill(c *Config, first int, port uint16) error {
	s.queue = make(queue, 0, len(s.units))
	for i := range s.units {
		u := &s.units[i]
		n := first + i
		u.shard, u.group, u.number, u.place = s, s.fleet.groupOf(n+1), int32(n+1), -1
		var err error
		at := c.address(n, port)
		if u.socket, u.at, err = s.set.Open(at, int32(i)); err != nil {
			return &BindError{at, err}
		}
		var frame engine.Frame
		u.member = u.group.Group.Member(n + 1)
		if u.engine, frame, err = u.group.model.Like(u.member, &s.scratch); err != nil {
			return err
		}
		for _, e := range frame.Effects {
			if e.Kind == snap.EffectNotify {
				s.early = append(s.early, early{u, e.Notification})
			}
		}
		u.next, u.boots = u.engine.Upcoming(), u.engine.Boots()
		heap.Push(&s.queue, u)
	}
	return nil
}

// groupOf is the group of device n, counted from 1.
func (f *Fleet) groupOf(n int) *group {
	for i := range f.groups {
		if g := &f.groups[i]; n < g.First+g.Count {
			return g
		}
	}
	panic(fmt.Sprintf("fleet: no device %d", n))
}

// KeepWith has k keep how often cards start. Nothing may run yet, and k must have
// kept the starts with which the devices were made.
func (f *Fleet) KeepWith(k Keeper) { f.keeper = k }

// Devices is how many there are.
func (f *Fleet) Devices() int { return f.total }

// Address is where the agent of device n answers, counted from 1.
func (f *Fleet) Address(n int) netip.AddrPort { return f.unit(n).at }

func (f *Fleet) unit(n int) *unit { return &f.shards[(n-1)/f.each].units[(n-1)%f.each] }

// Member is what device n has of its own.
func (f *Fleet) Member(n int) *plan.Member { return f.unit(n).member }

// Unfinished says whether some run has not come to its end. All shards must have
// returned.
func (f *Fleet) Unfinished() bool {
	for _, s := range f.shards {
		for i := range s.units {
			if !s.units[i].engine.Ended() {
				return true
			}
		}
	}
	return false
}

// Shards is how many goroutines the fleet needs; each has to call RunShard with a
// number from 0.
func (f *Fleet) Shards() int { return len(f.shards) }

// RunShard runs the devices of a shard until ctx is done or every run of the
// fleet has ended.
func (f *Fleet) RunShard(ctx context.Context, i int) error {
	woken := make(chan struct{})
	stop := context.AfterFunc(ctx, func() { f.shards[i].set.Wake(); close(woken) })
	defer func() {
		if !stop() {
			<-woken // nobody wakes a set that is closed: its descriptor may be another's by then
		}
	}()
	return f.shards[i].run(ctx)
}

// shardEnded notes that all runs of a shard have ended, and wakes the others when
// it was the last.
func (f *Fleet) shardEnded() {
	if f.running.Add(-1) == 0 {
		f.Wake()
	}
}

// Wake has every shard look at the clock again.
func (f *Fleet) Wake() {
	for _, s := range f.shards {
		s.set.Wake()
	}
}

// Ended says whether every run has come to its end.
func (f *Fleet) Ended() bool { return f.allEnded() }

func (f *Fleet) allEnded() bool { return f.running.Load() == 0 }

// complaints bounds what is said of notifications that cannot be sent: what one
// device cannot, ten thousand cannot.
const complaints = 20

func (f *Fleet) complain(line string) {
	switch n := f.told.Add(1); {
	case n < complaints:
		f.log(line)
	case n == complaints:
		f.log(line + "; no more is said of such things")
	}
}

// Outcomes closes every run and is what the devices came to, in order. All shards
// must have returned.
func (f *Fleet) Outcomes(each func(Outcome)) {
	for _, s := range f.shards {
		for i := range s.units {
			u := &s.units[i]
			if u.outcome == nil {
				s.end(u)
			}
			each(Outcome{Group: f.indexOf(u.group), Number: int(u.number), Outcome: *u.outcome})
		}
	}
}

func (f *Fleet) indexOf(g *group) int {
	for i := range f.groups {
		if &f.groups[i] == g {
			return i
		}
	}
	return -1
}

// Close closes every socket. All shards must have returned.
func (f *Fleet) Close() {
	for _, s := range f.shards {
		s.set.Close()
	}
}
