package engine_test

import (
	"context"
	"strings"
	"testing"
	"testing/synctest"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
)

// keeper keeps what it is given until the test lets go of it.
type keeper struct {
	got  chan *snap.Keep
	done chan func()
}

func (k *keeper) Keep(what *snap.Keep, done func()) {
	k.got <- what
	k.done <- done
}

// TestAnswerWaitsUntilKept: a command that changes the memory is answered once
// that is kept and not before; others meanwhile are, and the run goes on.
func TestAnswerWaitsUntilKept(t *testing.T) {
	p := load(t, strings.Replace(branch, "[card]", "[card]\nboot_takes = \"0s\"", 1))
	p.Card.Memory = &snap.Memory{}
	synctest.Test(t, func(t *testing.T) {
		k := &keeper{make(chan *snap.Keep, 9), make(chan func(), 9)}
		e, first := newEngine(t, p)
		if first.Keep(0) == nil || string(first.Keep(0).Sections["boots"]) != "1" {
			t.Fatalf("the first frame keeps %+v", first.Keep(0))
		}
		l := engine.NewLoop(&pacer{}, first, func(engine.Frame) {}, nil)
		l.KeepWith(k)
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan struct{})
		go func() { defer close(ended); l.Run(ctx, e, true) }()
		answers := make(chan snap.Result, 1)
		go func() {
			answers <- l.Submit(snap.Command{Op: snap.OpSet, Sets: []snap.Assignment{{Var: snap.VarSysName, Text: "x"}}})
		}()
		synctest.Wait()
		if len(answers) > 0 {
			t.Error("answered before it was kept")
		}
		if what := <-k.got; !strings.Contains(string(what.Sections["settings"]), `"Name":"x"`) {
			t.Errorf("kept %s", what.Sections)
		}
		if r := l.Submit(snap.Command{Op: snap.OpSet, Sets: []snap.Assignment{{Var: snap.VarShutdownAfter, Int: 600}}}); r.Status != snap.Done {
			t.Errorf("another command: %+v", r)
		}
		(<-k.done)()
		synctest.Wait()
		if len(answers) != 1 || (<-answers).Status != snap.Done {
			t.Error("not answered although it was kept")
		}
		stop()
		<-ended
		if r := l.Submit(snap.Command{Op: snap.OpSave}); r.Status != snap.Gone {
			t.Errorf("after the end: %+v", r)
		}
	})
}

// TestWhatIsNeverKeptIsNeverAnswered: the session ends instead.
func TestWhatIsNeverKeptIsNeverAnswered(t *testing.T) {
	p := load(t, branch)
	p.Card.Memory = &snap.Memory{}
	e, first := newEngine(t, p)
	l := engine.NewLoop(&pacer{}, first, func(engine.Frame) {}, nil)
	k := &keeper{make(chan *snap.Keep, 9), make(chan func(), 9)}
	l.KeepWith(k)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { defer close(ended); l.Run(ctx, e, true) }()
	go func() { <-k.got; stop() }() // as the host does when its disk is full
	r := l.Submit(snap.Command{Op: snap.OpSet, Sets: []snap.Assignment{{Var: snap.VarSysName, Text: "x"}}})
	if r.Status != snap.Gone {
		t.Errorf("%+v", r)
	}
	<-ended
}
