package snap

import (
	"encoding/binary"
	"fmt"

	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/vtime"
)

// QuirkKind is one way in which a card departs from the standards. Package
// core/quirk says what each does and what a correct client makes of it.
type QuirkKind uint8

// Quirks of values, of the protocol, of capacity, of SNMPv3, of notifications, and
// of the start.
const (
	QuirkScaledUp QuirkKind = iota + 1
	QuirkScaledDown
	QuirkRuntimeInSeconds
	QuirkRuntimeZero
	QuirkRuntimeMinusOne
	QuirkConstant
	QuirkFrozen
	QuirkStale
	QuirkAbsent
	QuirkZeroPhaseRows
	QuirkPaddedAlarms
	QuirkUnlistedAlarms
	QuirkUnknownCode
	QuirkFahrenheit
	QuirkUptimeStepsBack
	QuirkUptimeNearWrap

	QuirkNoBulk
	QuirkOneRowBulk
	QuirkTooBigAbove
	QuirkSilentAbove
	QuirkTruncated
	QuirkMalformed
	QuirkWrongRequestID
	QuirkWrongSource
	QuirkDuplicated
	QuirkReordered
	QuirkListOfV4

	QuirkSlowObjects
	QuirkOneAtATime
	QuirkHung
	QuirkLossy

	QuirkBootsNotKept
	QuirkEngineTimeStuck
	QuirkSharedEngineID

	QuirkOnBatteryOnce
	QuirkNoAllClear
	QuirkNoInstance
	QuirkStorm
	QuirkNoPause
	QuirkWrongAgentAddress

	QuirkHalfAwake
	QuirkCountersNotKept

	// QuirkKinds is the number of kinds plus one: a size for arrays by kind.
	QuirkKinds
)

var quirkNames = []string{
	"", "scaled-up", "scaled-down", "runtime-in-seconds", "runtime-zero", "runtime-minus-one", "constant", "frozen", "stale",
	"absent", "zero-phase-rows", "padded-alarms", "unlisted-alarms", "unknown-code", "fahrenheit-as-celsius", "uptime-steps-back", "uptime-near-wrap",
	"no-bulk", "one-row-bulk", "too-big-above", "silent-above", "truncated", "malformed", "wrong-request-id",
	"wrong-source", "duplicated", "reordered", "access-list-of-ipv4",
	"slow-objects", "one-at-a-time", "hung", "lossy",
	"boots-not-kept", "engine-time-stuck", "shared-engine-id",
	"on-battery-once", "no-all-clear", "no-instance", "storm", "no-pause", "wrong-agent-address",
	"half-awake", "counters-not-kept",
}

// String is the name of k; scenarios use it.
func (k QuirkKind) String() string { return nameOf(quirkNames, int(k)) }

// QuirkByName is the kind with that name, 0 if there is none.
func QuirkByName(name string) QuirkKind {
	for k, n := range quirkNames {
		if k > 0 && n == name {
			return QuirkKind(k)
		}
	}
	return 0
}

// Quirk is one quirk in force. Which of the fields beside Kind it uses is in
// package core/quirk; the others are zero.
type Quirk struct {
	Kind    QuirkKind
	Objects []string    // names of objects that it touches
	Alarms  []AlarmKind // alarms that it touches
	Count   int
	Value   int64
	Percent float64    // of the replies, 0..100
	Delay   vtime.Tick // real time, whatever the pace
	Lasts   vtime.Tick // simulated time
	Since   vtime.Tick // when it came into force
	Held    *Device    // the state that it shows instead of the present one; may be nil
}

// Touches says whether the quirk is about the object.
func (q *Quirk) Touches(object string) bool {
	if q == nil {
		return false
	}
	for _, o := range q.Objects {
		if o == object {
			return true
		}
	}
	return false
}

// Quirks are those in force on one card. They never change once they are in a
// [Card]: others are put in their place. A nil one has none; all methods work on
// it.
type Quirks struct {
	Seed   uint64
	Serial string // of the card: two cards of one seed do not err alike
	list   [QuirkKinds]*Quirk
}

// Of is the quirk of that kind, nil if it is not in force.
func (q *Quirks) Of(k QuirkKind) *Quirk {
	if q == nil {
		return nil
	}
	return q.list[k]
}

// With is q with one more, in place of another of its kind. q must not be nil.
func (q *Quirks) With(one Quirk) *Quirks {
	more := *q
	more.list[one.Kind] = &one
	return &more
}

// Without is q without that kind; of kind 0 without any.
func (q *Quirks) Without(k QuirkKind) *Quirks {
	less := *q
	if k == 0 {
		less.list = [QuirkKinds]*Quirk{}
	}
	less.list[k] = nil
	return &less
}

// Empty says whether none is in force.
func (q *Quirks) Empty() bool { return q == nil || q.list == [QuirkKinds]*Quirk{} }

// Names are those in force, in the order of their kinds.
func (q *Quirks) Names() []string {
	var names []string
	for k := QuirkKind(1); k < QuirkKinds; k++ {
		if q.Of(k) != nil {
			names = append(names, k.String())
		}
	}
	return names
}

// Draw is the n-th throw of the dice of that kind, at least 0 and below 1: the
// same for the same seed, card and n.
func (q *Quirks) Draw(k QuirkKind, n uint64) float64 { return q.DrawFor("agent", k, n) }

// DrawFor is [Quirks.Draw] from a stream of somebody's own.
func (q *Quirks) DrawFor(whom string, k QuirkKind, n uint64) float64 {
	key := rng.Key(q.Seed, fmt.Sprintf("quirk/%s/%s/%s/%d", q.Serial, whom, k, n))
	return float64(binary.BigEndian.Uint64(key[:])>>11) / (1 << 53)
}

// NextActs is how long after one line about a quirk's acts the next may come, if it
// was wait before: from a minute on twice as long each time, up to an hour.
func NextActs(wait vtime.Tick) vtime.Tick {
	return min(max(2*wait, vtime.Minute), vtime.Hour)
}
