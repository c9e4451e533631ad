package card

import (
	"fmt"
	"net/netip"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
)

// told is one notification that left.
type told struct {
	at vtime.Tick
	snap.Notification
}

// bench is one card with nothing around it.
type bench struct {
	card *Card
	now  vtime.Tick
	ups  State
	sent []told
}

func newBench(mode snap.AddressMode) *bench {
	b := &bench{ups: State{Test: snap.ResultNone}}
	cfg := plan.Card{
		Identity: snap.Identity{SerialNumber: "RT0001"},
		Settings: snap.Settings{Mode: mode, Fixed: netip.MustParsePrefix("192.0.2.10/24")},
		CardMake: &plan.CardMake{BootTakes: 75 * vtime.Second, User: "technician"},
	}
	network := plan.Network{DHCP: "absent", Offer: netip.MustParsePrefix("192.0.2.11/24")}
	b.card = New(&cfg, &network, 1, time.Time{}, unheard)
	b.card.Start()
	b.due()
	return b
}

func (b *bench) due() {
	b.card.Due(b.now, b.ups, func(n snap.Notification) { b.sent = append(b.sent, told{b.now, n}) })
}

// to moves on, stopping wherever the card wants to.
func (b *bench) to(t fataler, until vtime.Tick) {
	for b.now < until {
		next := b.card.Deadline(b.now)
		if next <= b.now {
			t.Fatalf("at %v the card wants to act at %v", b.now, next)
		}
		b.now = min(next, until)
		b.due()
	}
}

type fataler interface{ Fatalf(string, ...any) }

func (b *bench) set(k snap.AlarmKind, on bool) {
	b.ups.Conditions = b.ups.Conditions.With(k, on)
	b.due()
}

// TestNotifications draws sequences of alarms, with and without an address, and
// checks what RFC 1628 says of notifications: no kind more often than once in 5 s,
// none added for on-battery and test-in-progress, none removed for the latter;
// and what we say: the queue is bounded, what was last heard about an alarm is
// how it ended, and of every row that was heard of the end is heard.
func TestNotifications(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := newBench(snap.AddressDHCP)
		kinds := []snap.AlarmKind{snap.AlarmOnBattery, snap.AlarmInputBad, snap.AlarmLowBattery, snap.AlarmTestInProgress, snap.AlarmFanFailure}
		for range rapid.IntRange(1, 60).Draw(t, "changes") {
			if rapid.IntRange(0, 9).Draw(t, "network") == 0 {
				b.card.ServeDHCP(true)
			}
			k := rapid.SampledFrom(kinds).Draw(t, "alarm")
			b.set(k, !b.ups.Conditions.Has(k))
			b.to(t, b.now+vtime.Tick(rapid.IntRange(0, 9000).Draw(t, "wait")))
			if n := len(b.card.out.waiting); n > 3*24+snap.NotifyKinds {
				t.Fatalf("%d notifications wait", n)
			}
		}
		b.card.ServeDHCP(true)
		b.to(t, b.now+10*vtime.Minute)
		checkPace(t, b.sent)
		checkEnds(t, b)
		checkRows(t, b)
	})
}

func checkPace(t *rapid.T, sent []told) {
	last := map[snap.NotifyKind]vtime.Tick{}
	for _, n := range sent {
		if before, ok := last[n.Kind]; ok && n.at-before < 5*vtime.Second {
			t.Fatalf("%v at %v and at %v", n.Kind, before, n.at)
		}
		last[n.Kind] = n.at
	}
}

// checkEnds: the last word about every alarm is how it ended.
func checkEnds(t *rapid.T, b *bench) {
	heard := map[snap.AlarmKind]bool{}
	for _, n := range b.sent {
		switch n.Kind {
		case snap.NotifyOnBattery:
			heard[snap.AlarmOnBattery] = true
		case snap.NotifyAlarmAdded:
			heard[n.Alarm] = true
		case snap.NotifyAlarmRemoved:
			heard[n.Alarm] = false
		}
		if n.Alarm == snap.AlarmTestInProgress || n.Kind == snap.NotifyAlarmAdded && n.Alarm == snap.AlarmOnBattery {
			t.Fatalf("%v of %v", n.Kind, n.Alarm)
		}
	}
	for k := snap.AlarmKind(1); k < snap.AlarmKinds; k++ {
		if k != snap.AlarmTestInProgress && heard[k] != b.ups.Conditions.Has(k) {
			t.Fatalf("%v: heard %v, is %v\n%v", k, heard[k], b.ups.Conditions.Has(k), b.sent)
		}
	}
}

// checkRows: of every row that was heard of, the end is heard, in this order.
func checkRows(t *rapid.T, b *bench) {
	open := map[int32]snap.AlarmKind{}
	for _, n := range b.sent {
		switch n.Kind {
		case snap.NotifyAlarmAdded:
			open[n.AlarmID] = n.Alarm
		case snap.NotifyAlarmRemoved:
			if k, ok := open[n.AlarmID]; ok && k != n.Alarm {
				t.Fatalf("row %d began as %v and ended as %v", n.AlarmID, k, n.Alarm)
			}
			delete(open, n.AlarmID)
		}
	}
	for id := range open {
		if !b.card.table.uses(id) {
			t.Fatalf("row %d never ended: %v", id, b.sent)
		}
	}
}

// TestNothingIsLost: a burst of different alarms leaves one after the other, in
// order, 5 s apart (RFC 1628: "no more than once every five seconds").
func TestNothingIsLost(t *testing.T) {
	b := newBench(snap.AddressFixed)
	b.to(t, vtime.Minute)
	b.sent = nil
	burst := []snap.AlarmKind{snap.AlarmFanFailure, snap.AlarmGeneralFault, snap.AlarmFuseFailure}
	for _, k := range burst {
		b.set(k, true)
	}
	b.to(t, 2*vtime.Minute)
	if len(b.sent) != 3 {
		t.Fatalf("%v", b.sent)
	}
	for i, n := range b.sent {
		if n.Alarm != burst[i] || n.AlarmID != int32(i+1) || n.at != vtime.Minute+vtime.Tick(i)*5*vtime.Second {
			t.Errorf("number %d: %+v", i, n)
		}
	}
}

// TestBriefAlarm: it came and went before it could be told; both are told.
func TestBriefAlarm(t *testing.T) {
	b := newBench(snap.AddressFixed)
	b.set(snap.AlarmFuseFailure, true) // takes this kind's turn
	b.set(snap.AlarmFanFailure, true)
	b.set(snap.AlarmFanFailure, false)
	b.to(t, vtime.Minute)
	got := fmt.Sprint(b.sent)
	want := fmt.Sprint([]told{
		{0, snap.Notification{Kind: snap.NotifyColdStart}},
		{0, snap.Notification{Kind: snap.NotifyAlarmAdded, AlarmID: 1, Alarm: snap.AlarmFuseFailure}},
		{5000, snap.Notification{Kind: snap.NotifyAlarmAdded, AlarmID: 2, Alarm: snap.AlarmFanFailure}},
		{5000, snap.Notification{Kind: snap.NotifyAlarmRemoved, AlarmID: 2, Alarm: snap.AlarmFanFailure}},
	})
	if got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// TestAllClearWaitingIsTakenBack: on battery again before the all-clear could
// leave; it must not arrive after the new alert.
func TestAllClearWaitingIsTakenBack(t *testing.T) {
	b := newBench(snap.AddressFixed)
	b.set(snap.AlarmOnBattery, true)
	b.to(t, 10*vtime.Second)
	b.set(snap.AlarmFanFailure, true)
	b.set(snap.AlarmFanFailure, false) // takes the turn of removals
	b.set(snap.AlarmOnBattery, false)
	b.set(snap.AlarmOnBattery, true)
	b.sent = nil
	b.to(t, vtime.Minute)
	for _, n := range b.sent {
		if n.Kind == snap.NotifyAlarmRemoved {
			t.Errorf("%+v while on battery", n)
		}
	}
}

// TestTestMessages: each receiver has its own turn, one does not hold up another nor an
// alarm, and what waits for a receiver twice leaves once.
func TestTestMessages(t *testing.T) {
	b := newBench(snap.AddressFixed)
	b.card.cfg.Private = true
	b.to(t, vtime.Minute)
	b.sent = nil
	for _, to := range []uint8{1, 2, 1, 1} {
		b.card.Tell(snap.Notification{Kind: snap.NotifyTry, To: to})
		b.due()
	}
	b.set(snap.AlarmFanFailure, true)
	b.to(t, 2*vtime.Minute)
	want := fmt.Sprint([]told{
		{vtime.Minute, snap.Notification{Kind: snap.NotifyTry, To: 1}},
		{vtime.Minute, snap.Notification{Kind: snap.NotifyTry, To: 2}},
		{vtime.Minute, snap.Notification{Kind: snap.NotifyAlarmAdded, AlarmID: 1, Alarm: snap.AlarmFanFailure}},
		{vtime.Minute + 5*vtime.Second, snap.Notification{Kind: snap.NotifyTry, To: 1}},
	})
	if got := fmt.Sprint(b.sent); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// TestMergedMatters: what is left of several notifications about a probe matters as much
// as the most important of them, so that who heard of the worst hears what became of it.
func TestMergedMatters(t *testing.T) {
	b := newBench(snap.AddressFixed)
	b.card.cfg.Private = true
	b.to(t, vtime.Minute)
	b.sent = nil
	for _, n := range []snap.Notification{
		{Kind: snap.NotifyProbeBetter, Row: 1, Matters: snap.Warning.Rank()}, {Kind: snap.NotifyProbeAlert, Row: 1, Matters: snap.Critical.Rank()},
	} {
		b.card.Tell(n)
		b.due()
	}
	for range 2 { // neither may leave yet
		b.card.Tell(snap.Notification{Kind: snap.NotifyProbeBetter, Row: 1, Matters: snap.Critical.Rank()})
		b.card.Tell(snap.Notification{Kind: snap.NotifyProbeAlert, Row: 1, Matters: snap.Warning.Rank()})
	}
	b.card.Tell(snap.Notification{Kind: snap.NotifyProbeBetter, Row: 1, Matters: snap.Warning.Rank()})
	b.to(t, 2*vtime.Minute)
	last := b.sent[len(b.sent)-1]
	if last.Kind != snap.NotifyProbeBetter || last.Matters != snap.Critical.Rank() {
		t.Errorf("the last of %v", b.sent)
	}
}
