package voltage

import (
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/mains"
)

// Variation is one time of voltage out of tolerance. Share is of nominal, the
// farthest that it came. One that had not ended when the run did is Open; its
// end is that of the run.
type Variation struct {
	Start, End vtime.Tick
	Share      float64
	Open       bool
	Class      mains.Event
	Rides      bool // equipment on the ITI curve works on
}

// Seconds is how long it lasted.
func (v *Variation) Seconds() float64 { return (v.End - v.Start).Seconds() }

// Watch collects the variations of a supply of Volts and Hz.
type Watch struct {
	Volts, Hz float64

	done []Variation
	now  *Variation // nil: in tolerance
}

// See is the supply from tick on. Ticks do not fall. It says which variation has
// ended with that, if one has.
func (w *Watch) See(tick vtime.Tick, feed snap.Feed) (over Variation, ended bool) {
	share := feed.Volts / w.Volts
	if w.now != nil && side(share) != side(w.now.Share) {
		over, ended = w.close(tick, false), true
	}
	switch {
	case side(share) == 0:
	case w.now == nil:
		w.now = &Variation{Start: tick, Share: share}
	case math.Abs(share-1) > math.Abs(w.now.Share-1):
		w.now.Share = share
	}
	return over, ended
}

// Finish is the list at the end of the run, in order. The watch is used up.
func (w *Watch) Finish(tick vtime.Tick) []Variation {
	if w.now != nil {
		w.close(tick, true)
	}
	return w.done
}

func (w *Watch) close(tick vtime.Tick, open bool) Variation {
	v := *w.now
	v.End, v.Open = tick, open
	v.Class = mains.Classify(v.Share, v.Seconds(), w.Hz)
	v.Rides = mains.Ride(v.Share, v.Seconds())
	w.done, w.now = append(w.done, v), nil
	return v
}

// side is -1 below tolerance, 1 above it, 0 within: 0.9 of nominal is a sag and
// 1.1 is normal, as package mains has it.
func side(share float64) int {
	switch {
	case share <= 0.9:
		return -1
	case share > 1.1:
		return 1
	}
	return 0
}
