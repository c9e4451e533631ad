package engine_test

import (
	"context"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// standing is a session whose time stands, and what ends it.
func standing(t *testing.T, text string, on bool) (*session, func()) {
	s := start(t, load(t, text))
	s.Begin(1, false)
	s.pacer.stands = true
	ctx, stop := context.WithCancel(t.Context())
	s.run(ctx, on)
	return s, func() { stop(); <-s.done }
}

func (s *session) advance(t *testing.T, w engine.Wait) engine.Outcome {
	t.Helper()
	w.Advance = true
	o, refused := s.Wait(nil, w)
	if refused.Status != snap.Done {
		t.Fatalf("%+v: %+v", w, refused)
	}
	return o
}

// A step lets exactly its time pass, and then time stands.
func TestAdvance(t *testing.T) {
	s, end := standing(t, branch, false)
	defer end()
	s.pacer.advance(vtime.Hour) // which a clock that stands does not
	if o := s.advance(t, engine.Wait{For: 61_234}); o.Now != 61_234 || o.Ended {
		t.Errorf("%+v", o)
	}
	if s.Site().Tick != 61_234 || s.Now() != 61_234 {
		t.Errorf("at %v, published %v", s.Now(), s.Site().Tick)
	}
	if c := s.Clock(); c != (engine.Clock{Now: 61_234, Speed: 1}) {
		t.Errorf("%+v", c)
	}
	if r := s.Submit(snap.Command{Op: snap.OpInject, Text: "note = \"n\""}); r.Status != snap.Done || s.Site().Tick != 61_234 {
		t.Errorf("%+v at %v", r, s.Site().Tick)
	}
}

// A condition ends an advance at the very tick at which it becomes true.
func TestAdvanceUntil(t *testing.T) {
	s, end := standing(t, branch, false)
	defer end()
	for _, c := range []struct {
		until string
		limit vtime.Tick
		want  engine.Outcome
	}{
		{"ups.on_battery", vtime.Hour, engine.Outcome{Now: vtime.Minute, Held: true, Values: "ups.on_battery = true"}},
		{"ups.on_battery", vtime.Hour, engine.Outcome{Now: vtime.Minute, Held: true, Values: "ups.on_battery = true"}}, // at once
		{"hosts_cut > 0", 1500, engine.Outcome{Now: vtime.Minute + 1500, Values: "hosts_cut = 0"}},
		{"t_s >= 100.001", vtime.Hour, engine.Outcome{Now: 100_001, Held: true, Values: "t_s = 100.001"}},
	} {
		if got := s.advance(t, engine.Wait{Until: c.until, For: c.limit}); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.until, got, c.want)
		}
	}
	_, refused := s.Wait(nil, engine.Wait{Until: "nosuch > 1", For: 1, Advance: true})
	if refused.Status != snap.WrongValue || !strings.HasPrefix(refused.Reason, "condition:1:1: ") {
		t.Errorf("%+v", refused)
	}
}

// Time that the bench drives stands at the end of the plan; running on from there
// ends the session.
func TestAdvanceToTheEnd(t *testing.T) {
	s, end := standing(t, branch, false)
	defer end()
	runFor := 45 * vtime.Minute
	for range 2 {
		if o := s.advance(t, engine.Wait{For: vtime.Hour}); o.Now != runFor || !o.Ended {
			t.Errorf("%+v", o)
		}
	}
	verdicts, at, final, refused := s.Standing()
	if at != runFor || !final || refused.Status != snap.Done || verdicts[1].State != expect.Met {
		t.Errorf("%v at %v, %v, %+v", verdicts, at, final, refused)
	}
	yes := true
	if c, refused := s.Turn(engine.Turn{Running: &yes}); refused.Status != snap.Done || !c.Running || !c.Ended {
		t.Errorf("%+v, %+v", c, refused)
	}
	<-s.done
	if s.end != runFor {
		t.Errorf("ended at %v", s.end)
	}
	if _, refused := s.Wait(nil, engine.Wait{For: 1, Advance: true}); refused.Status != snap.Gone {
		t.Errorf("after the end: %+v", refused)
	}
}

// A session that is to go on goes on under the bench's hands too.
func TestAdvanceBeyondTheEnd(t *testing.T) {
	s, end := standing(t, branch, true)
	defer end()
	if o := s.advance(t, engine.Wait{For: vtime.Hour}); o.Now != vtime.Hour || !o.Ended {
		t.Errorf("%+v", o)
	}
}

// Who waits sees time go at its own pace, and is told when it is too late or over.
func TestWait(t *testing.T) {
	s := start(t, load(t, branch))
	ctx, stop := context.WithCancel(t.Context())
	s.run(ctx, false)
	type answer struct {
		engine.Outcome
		refused snap.Result
	}
	wait := func(until string, within vtime.Tick) <-chan answer {
		told := make(chan answer, 1)
		go func() {
			o, refused := s.Wait(nil, engine.Wait{Until: until, For: within})
			told <- answer{o, refused}
		}()
		return told
	}
	lost, late, never := wait("ups.on_battery", vtime.Hour), wait("hosts_cut > 0", 90_500), wait("hosts_cut > 0", vtime.Hour)
	for s.watched() < 3 {
		s.Clock() // until all three wait
	}
	s.pacer.advance(61 * vtime.Second)
	if a := <-lost; a.Now != vtime.Minute || !a.Held {
		t.Errorf("%+v", a)
	}
	s.pacer.advance(vtime.Minute)
	if a := <-late; a.Now != 90_500 || a.Held {
		t.Errorf("%+v", a)
	}
	stop()
	if a := <-never; a.refused.Status != snap.Gone {
		t.Errorf("%+v", a)
	}
	<-s.done
}

// watched is how many conditions the journal has seen come.
func (s *session) watched() (n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, e := range s.journal {
		if e.Command.Op == snap.OpWatch {
			n++
		}
	}
	return n
}

// An advance that nobody waits for any more stops, and others can go on; a second
// one at once is refused, and so is another pace.
func TestAdvanceIsGivenUp(t *testing.T) {
	s, end := standing(t, branch, true)
	defer end()
	done := make(chan struct{})
	told := make(chan snap.Result)
	go func() {
		_, refused := s.Wait(done, engine.Wait{For: engine.MaxEnd, Advance: true})
		told <- refused
	}()
	for s.Clock().Now == 0 {
		runtime.Gosched() // until it is under way
	}
	no := false
	if _, refused := s.Turn(engine.Turn{Running: &no}); refused.Status != snap.Inconsistent {
		t.Errorf("turned: %+v", refused)
	}
	if _, refused := s.Wait(nil, engine.Wait{For: 1, Advance: true}); refused.Status != snap.Inconsistent {
		t.Errorf("advanced twice: %+v", refused)
	}
	close(done)
	<-told
	at := s.Clock()
	if at.Moving || at.Running || at.Now == 0 {
		t.Errorf("%+v", at)
	}
	if o := s.advance(t, engine.Wait{For: 5}); o.Now != at.Now+5 {
		t.Errorf("%+v after %v", o, at.Now)
	}
}

// TestDrivenSessionReplays: clients that ask and a bench that pauses, steps, waits
// and changes the speed, all at once; the journal comes to the same trace.
func TestDrivenSessionReplays(t *testing.T) {
	p := load(t, day())
	s := start(t, p)
	ctx, stop := context.WithCancel(t.Context())
	s.run(ctx, false)
	conditions := []string{"battery.charge_pct < 97.3", "ups.on_battery", "hosts_running == 8", "battery.volts < 49.77", "t_s > 4000.5"}
	var clients sync.WaitGroup
	for client := range 4 {
		dice := rand.New(rand.NewPCG(7, uint64(client)))
		clients.Go(func() {
			for n := range 60 {
				yes, speed := dice.IntN(2) == 0, 1+dice.Float64()
				until := conditions[dice.IntN(len(conditions))]
				switch dice.IntN(6) {
				case 0:
					s.Turn(engine.Turn{Running: &yes, Speed: &speed})
				case 1:
					s.Wait(nil, engine.Wait{For: 1 + vtime.Tick(dice.IntN(100_000)), Advance: true})
				case 2:
					s.Wait(nil, engine.Wait{For: 1 + vtime.Tick(dice.IntN(600_000)), Until: until, Advance: true})
				case 3:
					given := make(chan struct{})
					close(given)
					s.Wait(given, engine.Wait{For: vtime.Hour, Until: until})
				default:
					s.Submit(command(client, n))
				}
				s.pacer.advance(vtime.Tick(137 * (client + 1)))
			}
		})
	}
	clients.Wait()
	stop()
	<-s.done
	journal := overJSON(t, s.journal)
	for _, op := range []snap.Op{snap.OpMark, snap.OpWatch, snap.OpUnwatch} {
		if !slices.ContainsFunc(journal, func(e engine.Entry) bool { return e.Command.Op == op }) {
			t.Errorf("the journal has no %s", op)
		}
	}
	if again := replay(t, p, journal, s.end); again != s.trace.String() {
		t.Fatalf("the replay differs (-live +replay):\n%s", cmp.Diff(s.trace.String(), again))
	}
}
