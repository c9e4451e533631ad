package term_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/term"
	"ridethrough/sim/internal/face/term/termtest"
)

// screen collects what is shown; it fails when broken is set.
type screen struct {
	mu     sync.Mutex
	text   strings.Builder
	broken bool
}

func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.broken {
		return 0, errors.New("line cut")
	}
	return s.text.Write(p)
}

// take returns what was shown since the last call.
func (s *screen) take() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	defer s.text.Reset()
	return s.text.String()
}

// rig is a session in a bubble of its own, where waiting costs no time.
type rig struct {
	t      *testing.T
	card   *termtest.Source
	in     chan []byte
	out    screen
	cancel context.CancelFunc
	ended  chan term.Ending
}

func start(t *testing.T, o term.Options) *rig {
	r := &rig{t: t, card: termtest.New(), in: make(chan []byte), ended: make(chan term.Ending, 1)}
	if o.Source == nil {
		o.Source = r.card
	} else {
		r.card = o.Source.(*termtest.Source)
	}
	ctx, cancel := context.WithCancel(context.Background())
	r.cancel = cancel
	go func() { r.ended <- term.Run(ctx, r.in, &r.out, o) }()
	synctest.Wait()
	return r
}

func (r *rig) typed(s string) string {
	r.in <- []byte(s)
	synctest.Wait()
	return r.out.take()
}

func (r *rig) shows(s, want string) {
	r.t.Helper()
	if got := r.typed(s); !strings.Contains(got, want) {
		r.t.Fatalf("after %q: %q, want %q", s, got, want)
	}
}

func (r *rig) ends(want term.Ending) {
	r.t.Helper()
	synctest.Wait()
	select {
	case got := <-r.ended:
		if got != want {
			r.t.Fatalf("ended with %d, want %d", got, want)
		}
	default:
		r.t.Fatalf("still going, want %d", want)
	}
}

func serial() term.Options { return term.Options{By: snap.Actor{Surface: "serial"}, Wake: true} }

func TestSerialSession(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, serial())
		if got := r.typed("noise"); got != "" {
			t.Fatalf("shown before the first line end: %q", got)
		}
		r.shows("\r\n", "SIMULATION")
		r.shows("installer\r\n", "installer\r\npassword: ")
		if got := r.typed("correct horse"); got != "" {
			t.Fatalf("password echoed: %q", got)
		}
		r.shows("\r\n", "Signed in as installer")
		r.shows("status\n", "source: mains\r\n")
		r.shows("sta\x0c", "\r\ncard> sta")
		r.shows("\x03", "^C\r\ncard> ")
		r.shows("\x04", "Signed out.\r\n")
		r.ends(term.Left)
	})
}

// TestTypeAhead types a whole session at once.
func TestTypeAhead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, serial())
		got := r.typed("\rinstaller\rcorrect horse\rstatus\rleave\rignored\r")
		if !strings.Contains(got, "source: mains") || strings.Contains(got, "correct horse") || strings.Contains(got, "ignored") {
			t.Fatalf("%q", got)
		}
		r.ends(term.Left)
	})
}

func TestLineEndsAreMadeOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, serial())
		got := r.typed("\r?\rinstaller\rcorrect horse\rhelp\rleave\r")
		if strings.Contains(got, "\r\r") || strings.Count(got, "\n") != strings.Count(got, "\r\n") {
			t.Fatalf("%q", got)
		}
		r.ends(term.Left)
	})
}

// TestPlain is a session without a terminal: no echo, \n alone.
func TestPlain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, term.Options{By: snap.Actor{Surface: "ssh", User: "installer", Role: snap.Viewer}, SignedIn: true, Plain: true})
		if got := r.out.take(); !strings.Contains(got, "Signed in as installer") {
			t.Fatalf("%q", got)
		}
		got := r.typed("status\n")
		if strings.Contains(got, "\r") || strings.HasPrefix(got, "status") || !strings.Contains(got, "source: mains") {
			t.Fatalf("%q", got)
		}
		close(r.in)
		r.ends(term.Hangup)
	})
}

func TestIdle(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := serial()
		o.Idle = time.Minute
		r := start(t, o)
		time.Sleep(time.Hour) // asleep: nobody is there to be signed out
		r.shows("\r", "user: ")
		time.Sleep(59 * time.Second)
		r.shows("installer\r", "password: ")
		time.Sleep(59 * time.Second)
		synctest.Wait()
		if got := r.out.take(); got != "" {
			t.Fatalf("too early: %q", got)
		}
		time.Sleep(time.Second)
		r.ends(term.TimedOut)
		if got := r.out.take(); !strings.Contains(got, "nothing was typed for 1m0s") {
			t.Fatalf("%q", got)
		}
	})
}

func TestLockedAfterThreeTries(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, serial())
		r.shows("\r"+strings.Repeat("installer\rwrong\r", 3), "3 times in a row")
		r.ends(term.Locked)
		tries := r.card.Commands()
		if len(tries) != 3 {
			t.Fatalf("%d tries reported", len(tries))
		}
		for _, c := range tries {
			if c.Op != snap.OpSignIn || c.OK || c.By != (snap.Actor{Surface: "serial", User: "installer"}) {
				t.Errorf("%+v", c)
			}
		}
	})
}

// TestGate: failures count over sessions, the line is shut before the last one
// is told, and a success starts the count anew.
func TestGate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := serial()
		o.Gate = term.NewGate(30*time.Second, time.Now)
		r := start(t, o)
		r.shows("\rinstaller\rwrong\rinstaller\rwrong\r", "wrong.\r\nuser: ")
		r.cancel()
		r.ends(term.Cancelled)

		r = start(t, o)
		r.shows("\rinstaller\rwrong\r", "3 times in a row")
		r.ends(term.Locked)

		r = start(t, o)
		r.shows("a\r", "\r\nToo many failed sign-ins. Try again in 30 s.\r\n")
		time.Sleep(29 * time.Second)
		r.shows("\r", "Try again in 1 s.")
		time.Sleep(time.Second)
		r.shows("\rinstaller\rwrong\rinstaller\rwrong\rinstaller\rcorrect horse\r", "Signed in")
		r.cancel()
		r.ends(term.Cancelled)

		r = start(t, o)
		r.shows("\rinstaller\rwrong\rinstaller\rwrong\r", "wrong.\r\nuser: ")
		r.cancel()
		r.ends(term.Cancelled)
	})
}

// TestCardRestart: a session does not outlive its card, whether the restart is
// seen while it lasts, or only by its count, as in fast time.
func TestCardRestart(t *testing.T) {
	for name, restart := range map[string]func(*snap.Device){
		"booting":      func(d *snap.Device) { d.Card.State = snap.CardBooting },
		"over already": func(d *snap.Device) { d.Card.Boots++ },
		"no power":     func(d *snap.Device) { d.Card.State = snap.CardOff },
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := start(t, serial())
				r.shows("\r", "user: ")
				r.card.Change(restart)
				time.Sleep(200 * time.Millisecond)
				r.ends(term.CardGone)
			})
		})
	}
}

// TestNoAnswerAfterRestart: not even the first key after it.
func TestNoAnswerAfterRestart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, serial())
		r.shows("\rinstaller\rcorrect horse\r", "card> ")
		r.card.Change(func(d *snap.Device) { d.Card.Boots++ })
		if got := r.typed("status\r"); got != "" {
			t.Fatalf("answered %q", got)
		}
		r.ends(term.CardGone)
	})
}

func TestSilentWhileBooting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		card := termtest.New()
		card.Change(func(d *snap.Device) { d.Card.State = snap.CardBooting })
		o := serial()
		o.Source = card
		r := start(t, o)
		if got := r.typed("\r\rhello\r"); got != "" {
			t.Fatalf("answered %q", got)
		}
		card.Change(func(d *snap.Device) { d.Card.State = snap.CardRunning })
		r.shows("\r", "user: ")
		r.cancel()
		r.ends(term.Cancelled)
	})
}

func TestNetworkSessionNeedsAddress(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, term.Options{SignedIn: true, Network: true})
		r.shows("", "Signed in")
		r.card.Change(func(d *snap.Device) { d.Card.Address = snap.Address{State: "searching"} })
		time.Sleep(200 * time.Millisecond)
		r.ends(term.CardGone)
		lost := start(t, term.Options{SignedIn: true, Network: true, Source: r.card})
		lost.ends(term.CardGone)
	})
}

func TestOutputCut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, serial())
		r.out.mu.Lock()
		r.out.broken = true
		r.out.mu.Unlock()
		r.in <- []byte("\r")
		r.ends(term.Hangup)
	})
}

func TestRestartFromTheMenu(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, term.Options{SignedIn: true, By: snap.Actor{User: "installer", Role: snap.Administrator}})
		r.shows("restart\rrestart\r", "The card restarts now.")
		r.ends(term.Left)
		if got := r.card.Device().Card.State; got != snap.CardBooting {
			t.Errorf("card is %s", got)
		}
	})
}
