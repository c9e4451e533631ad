package playback

import (
	"net/netip"
	"sort"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/bundle"
	"ridethrough/sim/internal/face/model"
)

// scene is what the card shows from a time on: a reading, or with nil objects nothing.
type scene struct {
	from    vtime.Tick
	reading *bundle.Reading
}

// stage is a recorded card as the agent sees it. It is safe for concurrent use.
type stage struct {
	now          func() vtime.Tick
	scenes       []scene
	loop         vtime.Tick // after which it begins again; 0: it does not
	here, silent snap.Device
	shown        atomic.Pointer[shown]
}

// shown is the variables of one scene.
type shown struct {
	scene     int
	variables []*model.Variable
}

// newStage is b as a card with a login.
func newStage(b *bundle.Bundle, l *Login, serial string, loop bool, now func() vtime.Tick) *stage {
	s := &stage{now: now}
	for i := range b.Readings {
		s.scenes = append(s.scenes, scene{tick(b.Readings[i].At), &b.Readings[i]})
	}
	for _, g := range b.Gaps {
		s.scenes = append(s.scenes, scene{tick(g.At), nil})
	}
	sort.SliceStable(s.scenes, func(i, j int) bool { return s.scenes[i].from < s.scenes[j].from })
	if loop {
		s.loop = tick(b.End + b.Interval)
	}
	s.here.Card = snap.Card{
		State: snap.CardRunning, Boots: 1, Access: l.access(),
		Identity: snap.Identity{SerialNumber: serial},
		Settings: snap.Settings{ReadCommunity: l.Community},
		Address:  snap.Address{State: "fixed", Prefix: netip.MustParsePrefix("192.0.2.10/24")},
	}
	s.silent.Card = s.here.Card
	s.silent.Card.State = snap.CardBooting
	return s
}

func tick(d time.Duration) vtime.Tick { return vtime.Tick(d / time.Millisecond) }

// at is the number of the scene that is on, -1 before the first.
func (s *stage) at() int {
	now := s.now()
	if s.loop > 0 {
		now %= s.loop
	}
	return sort.Search(len(s.scenes), func(i int) bool { return s.scenes[i].from > now }) - 1
}

// Device is the card: running, or silent in a gap.
func (s *stage) Device() *snap.Device {
	if i := s.at(); i < 0 || s.scenes[i].reading == nil {
		return &s.silent
	}
	return &s.here
}

// Now is the tick of the device: nothing in it counts.
func (s *stage) Now() vtime.Tick { return s.here.Tick }

// Submit refuses: a recording takes no orders.
func (s *stage) Submit(snap.Command) snap.Result { return snap.Result{Status: snap.Gone} }

// objects are those of the reading that is on.
func (s *stage) objects() []*model.Variable {
	i := s.at()
	if was := s.shown.Load(); was != nil && was.scene == i {
		return was.variables
	}
	is := &shown{scene: i}
	if i >= 0 && s.scenes[i].reading != nil {
		is.variables, _ = model.RecordedVariables(encoded(s.scenes[i].reading))
	}
	s.shown.Store(is)
	return is.variables
}

// encoded is the reading as an agent of every version can serve it: without Counter64,
// which SNMPv1 does not have and no card's UPS needs.
func encoded(r *bundle.Reading) []model.Recorded {
	list := make([]model.Recorded, 0, len(r.Objects))
	for _, o := range r.Objects {
		if o.Value.Tag != ber.Counter64 {
			list = append(list, model.Recorded{Name: o.Name, Value: bundle.Append(nil, o.Value)})
		}
	}
	return list
}
