package serve

import (
	"errors"
	"io"
	"net"
	"sync/atomic"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/host/wire"
)

// lineOf is a link that carries as c says until it is told otherwise.
func lineOf(c *snap.Carriage) (*line, func(*snap.Carriage)) {
	var now atomic.Pointer[snap.Site]
	turn := func(c *snap.Carriage) {
		s := &snap.Site{}
		s.Net.Link = c
		now.Store(s)
	}
	turn(c)
	return &line{wire: wire.New(1), site: now.Load, elapsed: func() time.Duration { return 0 }}, turn
}

// TestSlowly: what goes over TCP comes whole and in order, however late, and a link that
// is good again holds nothing up.
func TestSlowly(t *testing.T) {
	l, turn := lineOf(&snap.Carriage{Delay: 5 * vtime.Millisecond, Jitter: 5 * vtime.Millisecond})
	a, b := net.Pipe()
	s, begin := newSlowly(a, l, "ssh"), time.Now()
	go func() {
		for _, text := range []string{"one ", "two ", "three"} {
			b.Write([]byte(text))
		}
		turn(nil)
		b.Close()
	}()
	got, err := io.ReadAll(s)
	if string(got) != "one two three" || err != nil || time.Since(begin) < 10*time.Millisecond {
		t.Errorf("%q, %v, after %v", got, err, time.Since(begin))
	}
}

// TestSlowlyEnds: who closes a connection does not wait for what is on its way.
func TestSlowlyEnds(t *testing.T) {
	l, _ := lineOf(&snap.Carriage{Delay: vtime.Hour})
	a, b := net.Pipe()
	defer b.Close()
	s := newSlowly(a, l, "ssh")
	wrote := make(chan error)
	go func() {
		_, err := s.Write([]byte("never"))
		wrote <- err
	}()
	s.Close()
	if err := <-wrote; !errors.Is(err, net.ErrClosed) {
		t.Error(err)
	}
	s.Close() // twice does no harm
}

// TestFirstTryLost: an inform of which the engine says that it is lost does not leave the
// first time; its repetition does.
func TestFirstTryLost(t *testing.T) {
	l, _ := lineOf(nil)
	a, b := net.Pipe()
	defer b.Close()
	c := &courier{conn: a, line: l}
	heard := make(chan string, 2)
	go func() {
		buf := make([]byte, 16)
		for {
			n, err := b.Read(buf)
			if err != nil {
				close(heard)
				return
			}
			heard <- string(buf[:n])
		}
	}()
	c.first([]byte("lost"), true)
	c.again([]byte("again"))
	c.first([]byte("sure"), false)
	a.Close()
	var got []string
	for text := range heard {
		got = append(got, text)
	}
	if len(got) != 2 || got[0] != "again" || got[1] != "sure" {
		t.Errorf("%q", got)
	}
}

// TestLostEverywhere: over a link that loses everything nothing passes, and all of it is
// counted.
func TestLostEverywhere(t *testing.T) {
	l, turn := lineOf(&snap.Carriage{LossPct: 100})
	for range 10 {
		if _, ok := l.passes("snmp", true); ok {
			t.Fatal("one passes")
		}
	}
	if got := l.wire.Take(); len(got) != 1 || got[0].Code != 10 || got[0].Text != "in" {
		t.Errorf("%+v", got)
	}
	turn(nil)
	if late, ok := l.passes("snmp", true); !ok || late != 0 {
		t.Error("lost over a good link")
	}
	if late, ok := (*line)(nil).passes("snmp", true); !ok || late != 0 || (*line)(nil).late("notify", false) != 0 {
		t.Error("lost where there is no link to lose it")
	}
}

// TestShellWaitsForTheLink: a write that waits for a segment to be sent again is not taken
// for a client that does not read.
func TestShellWaitsForTheLink(t *testing.T) {
	s := &served{session: &session{}, gate: &gate{}}
	if got := s.shell(nil).WriteWithin; got <= snap.LongestResend.Duration() {
		t.Errorf("a write is given up after %v, and TCP goes on for %v", got, snap.LongestResend)
	}
}
