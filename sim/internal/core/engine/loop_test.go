package engine_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/trace"
	"ridethrough/sim/internal/core/vtime"
)

func TestMain(m *testing.M) { checks.Main(m) }

// pacer is a clock that a test moves.
type pacer struct {
	mu   sync.Mutex
	now  vtime.Tick
	due  vtime.Tick
	wake chan time.Time

	stands bool
}

func (p *pacer) Now() vtime.Tick {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.now
}

func (p *pacer) At(t vtime.Tick) <-chan time.Time {
	p.mu.Lock()
	defer p.mu.Unlock()
	wake := make(chan time.Time, 1)
	p.due, p.wake = t, wake
	p.ring()
	return wake
}

func (p *pacer) Turn(from vtime.Tick, _ float64, running bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.now, p.stands = from, !running
}

func (p *pacer) ring() {
	if p.wake != nil && p.due <= p.now {
		p.wake <- time.Time{}
		p.wake = nil
	}
}

func (p *pacer) advance(by vtime.Tick) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.stands {
		return
	}
	p.now += by
	p.ring()
}

// session is a loop with its trace and journal.
type session struct {
	*engine.Loop
	engine  *engine.Engine
	pacer   *pacer
	trace   bytes.Buffer
	mu      sync.Mutex
	journal []engine.Entry
	end     vtime.Tick
	done    chan struct{}
}

// start prepares a session of p; run runs it.
func start(t *testing.T, p *plan.Plan) *session {
	s := &session{pacer: &pacer{}, done: make(chan struct{})}
	w := trace.New(&s.trace, p)
	e, first := newEngine(t, p)
	s.engine = e
	s.Loop = engine.NewLoop(s.pacer, first,
		func(f engine.Frame) { w.Frame(f.Events, f.Site) },
		func(entry engine.Entry) {
			s.mu.Lock()
			defer s.mu.Unlock()
			s.journal = append(s.journal, entry)
		})
	return s
}

func (s *session) run(ctx context.Context, on bool) {
	go func() {
		s.end = s.Run(ctx, s.engine, on)
		close(s.done)
	}()
}

// replay is the trace that a journal comes to.
func replay(t *testing.T, p *plan.Plan, journal []engine.Entry, end vtime.Tick) string {
	var b bytes.Buffer
	w := trace.New(&b, p)
	e, first := newEngine(t, p)
	each := func(f engine.Frame) { w.Frame(f.Events, f.Site) }
	each(first)
	engine.Replay(e, journal, end, each)
	return b.String()
}

// command is the n-th of a client, of every kind.
func command(client, n int) snap.Command {
	by := snap.Actor{Surface: "snmp", Peer: fmt.Sprintf("client %d", client)}
	set := func(v snap.Var, value int64) snap.Command {
		return snap.Command{Op: snap.OpSet, By: by, Sets: []snap.Assignment{{Var: v, Int: value}}}
	}
	switch n % 7 {
	case 0:
		return set(snap.VarLowBattTime, int64(client))
	case 1:
		return set(snap.VarShutdownAfter, 600)
	case 2:
		return set(snap.VarShutdownAfter, -1)
	case 3:
		return snap.Command{Op: snap.OpSignIn, By: by, OK: true}
	case 4:
		return snap.Command{Op: snap.OpInject, Text: fmt.Sprintf("source = {volts = %d, lasts = \"2s\"}", 20*client)}
	case 5:
		return snap.Command{Op: snap.OpAuthFail, By: by}
	}
	return set(snap.VarSnmpSetSerialNo, 1) // refused but once
}

// TestLiveSessionReplays: many clients at once; the journal, through JSON, comes
// to the same trace byte for byte, and a journal that was changed does not.
func TestLiveSessionReplays(t *testing.T) {
	p := load(t, branch)
	s := start(t, p)
	ctx, stop := context.WithCancel(t.Context())
	s.run(ctx, false)
	var clients sync.WaitGroup
	for client := range 8 {
		clients.Go(func() {
			before := vtime.Tick(0)
			for n := range 70 {
				d, now := s.Device(), s.Now()
				if now < d.Tick || now < before {
					t.Errorf("now %v, published %v, before %v", now, d.Tick, before)
				}
				before = now
				if r := s.Submit(command(client, n)); r.Status == snap.Busy || r.Status == snap.Gone {
					t.Errorf("command %d of client %d: %+v", n, client, r)
				}
				s.pacer.advance(vtime.Tick(137 * (client + 1)))
			}
		})
	}
	clients.Wait()
	stop()
	<-s.done

	if len(s.journal) != 8*70 {
		t.Fatalf("%d commands in the journal", len(s.journal))
	}
	journal := overJSON(t, s.journal)
	if again := replay(t, p, journal, s.end); again != s.trace.String() {
		t.Fatalf("the replay differs (-live +replay):\n%s", cmp.Diff(s.trace.String(), again))
	}
	signIn := slices.IndexFunc(journal, func(e engine.Entry) bool { return e.Command.Op == snap.OpSignIn })
	for name, tamper := range map[string]func([]engine.Entry) []engine.Entry{
		"left out": func(j []engine.Entry) []engine.Entry { return slices.Delete(j, signIn, signIn+1) },
		"later":    func(j []engine.Entry) []engine.Entry { j[signIn].Tick += 5; return j },
		"another":  func(j []engine.Entry) []engine.Entry { j[signIn].Command = snap.Command{Op: snap.OpRestart}; return j },
	} {
		if replay(t, p, tamper(overJSON(t, s.journal)), s.end) == s.trace.String() {
			t.Errorf("a journal with an entry %s replays as if nothing had been", name)
		}
	}
}

func overJSON(t *testing.T, journal []engine.Entry) (back []engine.Entry) {
	t.Helper()
	text, err := json.Marshal(journal)
	if err == nil {
		err = json.Unmarshal(text, &back)
	}
	if err != nil {
		t.Fatal(err)
	}
	return back
}

// TestPacedRunIsTheFreeRun: without commands the pace changes nothing.
func TestPacedRunIsTheFreeRun(t *testing.T) {
	p := load(t, branch)
	s := start(t, p)
	s.run(t.Context(), false)
	for range 100 {
		s.pacer.advance(p.RunFor / 100)
	}
	<-s.done
	if s.end != p.RunFor {
		t.Errorf("ended at %v", s.end)
	}
	free, _ := play(t, p)
	if !strings.HasPrefix(free, s.trace.String()) || s.trace.Len() < len(free)/2 {
		t.Errorf("paced and free run differ:\n%s", cmp.Diff(free, s.trace.String()))
	}
}

// TestGoOn: a session that is to go on outlives its plan; another does not, even
// if a command comes in late.
func TestGoOn(t *testing.T) {
	p := load(t, branch)
	s := start(t, p)
	ctx, stop := context.WithCancel(t.Context())
	s.run(ctx, true)
	s.pacer.advance(p.RunFor + min)
	if r := s.Submit(command(1, 0)); r.Status != snap.Done {
		t.Errorf("after the plan: %+v", r)
	}
	stop()
	if <-s.done; s.end < p.RunFor+min {
		t.Errorf("ended at %v", s.end)
	}

	s = start(t, p)
	s.pacer.advance(p.RunFor + min)
	answer := make(chan snap.Result)
	go func() { answer <- s.Submit(command(1, 0)) }()
	s.run(t.Context(), false)
	<-s.done
	if r := <-answer; r.Status != snap.Gone && (len(s.journal) != 1 || s.journal[0].Tick >= p.RunFor) {
		t.Errorf("%+v, journal %v", r, s.journal)
	}
	if s.end != p.RunFor || s.Site().Tick != p.RunFor {
		t.Errorf("ended at %v, published %v", s.end, s.Site().Tick)
	}
}

// TestInbox: it is bounded; nobody waits for ever for an engine that has ended.
func TestInbox(t *testing.T) {
	s := start(t, load(t, branch))
	const clients = 300
	answers := make(chan snap.Result, clients)
	for n := range clients {
		go func() { answers <- s.Submit(command(n, 0)) }()
	}
	for range clients - 256 {
		if r := <-answers; r.Status != snap.Busy {
			t.Fatalf("%+v", r)
		}
	}
	s.End()
	s.End()
	for range 256 {
		if r := <-answers; r.Status != snap.Gone {
			t.Fatalf("%+v", r)
		}
	}
	if r := s.Submit(command(1, 0)); r.Status != snap.Gone {
		t.Errorf("after the end: %+v", r)
	}
}

// TestPublishedStaysAsItWas: what a surface holds never changes under it.
func TestPublishedStaysAsItWas(t *testing.T) {
	s := start(t, load(t, branch))
	ctx, stop := context.WithCancel(t.Context())
	s.run(ctx, true)
	site := s.Site()
	tick, host, alarms := site.Tick, site.Hosts[0], site.Alarms.Count
	s.pacer.advance(5 * min)
	s.Submit(snap.Command{Op: snap.OpInject, Text: "output = \"off\""})
	stop()
	<-s.done
	if site.Tick != tick || site.Hosts[0] != host || site.Alarms.Count != alarms {
		t.Errorf("%v, %+v, %d alarms", site.Tick, site.Hosts[0], site.Alarms.Count)
	}
	if now := s.Site(); now.Hosts[0].Powered || now.Tick != 5*min {
		t.Errorf("latest: %v, %+v", now.Tick, now.Hosts[0])
	}
}

// TestNowBetweenTwoStates: it counts on between two published states, but never
// past the next.
func TestNowBetweenTwoStates(t *testing.T) {
	s := start(t, load(t, "title = \"t\"\nrun_for = \"1h\"\n[[at]]\ntime = \"90s\"\nnote = \"n\"\n"))
	ctx, stop := context.WithCancel(t.Context())
	defer func() { stop(); <-s.done }()
	s.run(ctx, true)
	if r := s.Submit(snap.Command{Op: snap.OpAuthFail}); r.Status != snap.Done { // the loop runs
		t.Fatalf("%+v", r)
	}
	s.pacer.advance(7)
	if r := s.Submit(snap.Command{Op: snap.OpAuthFail}); r.Status != snap.Done || s.Now() != 7 || s.Device().Tick != 7 {
		t.Errorf("now %v, published %v, %+v", s.Now(), s.Device().Tick, r)
	}
}
