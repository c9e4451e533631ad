package dossier

import (
	"testing"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestTapeIsBounded: a session that goes on and on, and a host that flutters, keep the tape
// within its bounds, and what comes first and last in it.
func TestTapeIsBounded(t *testing.T) {
	tape := NewTape(&plan.Plan{RunFor: vtime.Minute, Hosts: []plan.Host{{Name: "db"}}})
	s := snap.Site{Hosts: make([]snap.Host, 1)}
	const seen = 4 * maxSamples
	for i := range seen {
		s.Tick = vtime.Tick(i) * 100
		s.Hosts[0].State = snap.HostRunning
		if i%2 == 1 {
			s.Hosts[0].State = snap.HostCut
		}
		tape.See(&s)
	}
	if n := len(tape.kept); n > maxSamples || n < maxSamples/4 {
		t.Errorf("%d samples", n)
	}
	if tape.kept[0].at != 0 || tape.last.at != s.Tick {
		t.Errorf("from %v to %v", tape.kept[0].at, tape.last.at)
	}
	for _, b := range tape.bands {
		if len(b.spans) > maxSpans {
			t.Errorf("%s: %d spans", b.name, len(b.spans))
		}
	}
	for i := 1; i < len(tape.kept); i++ {
		if tape.kept[i].at < tape.kept[i-1].at {
			t.Fatalf("sample %d is earlier than the one before", i)
		}
	}
}

// TestTapeHoldsWhatIsSwitched: a load that is switched between two instants is drawn as a step,
// not as a ramp.
func TestTapeHoldsWhatIsSwitched(t *testing.T) {
	tape := NewTape(&plan.Plan{RunFor: vtime.Hour})
	s := snap.Site{}
	for _, one := range []struct {
		at vtime.Tick
		w  float64
	}{{0, 500}, {10_000, 500}, {20_000, 0}} {
		s.Tick, s.Power.OutputW = one.at, one.w
		tape.See(&s)
	}
	last := tape.kept[len(tape.kept)-2:]
	if last[0].at != 20_000 || last[0].loadW != 500 || last[1].at != 20_000 || last[1].loadW != 0 {
		t.Errorf("%+v", last)
	}
}
