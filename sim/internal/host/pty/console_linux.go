package pty

import (
	"context"
	"errors"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/term"
)

const (
	// lateFor is how long after a closing bytes still count as the leaver's: the
	// system hands them on by way of a queue.
	lateFor = 50 * time.Millisecond
	// typeAhead is how many reads may wait for the menu; what comes then is lost,
	// as on a real line.
	typeAhead = 64
)

// Console is the serial line of one card.
type Console struct {
	c     Config
	dev   *device
	watch *watch
	link  *link
	gate  *term.Gate

	mu     sync.Mutex // guards the following, and the order of looking and delivering
	closed bool
	stop   context.CancelFunc // ends the present talk
	in     chan []byte        // to the present talk
	left   time.Time          // of the last move, if that was a closing

	life    atomic.Uint64 // of the present talk; writers of earlier ones are cut off
	held    atomic.Bool   // somebody is signed in
	plugged atomic.Bool   // somebody has the line open, as far as can be told
	writing sync.Mutex
	running sync.WaitGroup
}

// Open makes the line and its link; clients may use them when it returns.
func Open(c Config) (*Console, error) {
	if c.Source == nil {
		return nil, errors.New("pty: no source")
	}
	c = c.withDefaults()
	dev, err := openDevice(c.Mode, (&Console{c: c}).open())
	if err != nil {
		return nil, err
	}
	s := &Console{c: c, dev: dev, gate: term.NewGate(c.LockFor, time.Now)}
	if s.watch, err = openWatch(dev.path); err != nil {
		dev.close()
		return nil, err
	}
	if c.Link != "" {
		if s.link, err = makeLink(c.Link, dev.path); err != nil {
			s.watch.file.Close()
			dev.close()
			return nil, err
		}
	}
	s.talk()
	s.running.Go(s.read)
	s.running.Go(func() { s.watch.wait(s.look) })
	return s, nil
}

// Path is where clients find the line: the link, or the device if there is none.
func (s *Console) Path() string {
	if s.link != nil {
		return s.link.path
	}
	return s.dev.path
}

// Device is the path of the pseudo-terminal itself.
func (s *Console) Device() string { return s.dev.path }

// Close takes the line away and returns when nothing of it runs.
func (s *Console) Close() error {
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return nil
	}
	s.closed = true
	s.stop()
	s.cut()
	s.mu.Unlock()
	if s.link != nil {
		s.link.remove()
	}
	s.dev.master.SetReadDeadline(time.Unix(1, 0))
	s.watch.file.Close()
	s.running.Wait()
	return s.dev.close()
}

// read carries bytes from the line to the talk.
func (s *Console) read() {
	buf := make([]byte, 256)
	for {
		n, err := s.dev.master.Read(buf)
		if n > 0 {
			s.deliver(append([]byte(nil), buf[:n]...))
		}
		if err != nil {
			return // only Close makes it fail: the kept slave end spares it the others
		}
	}
}

// deliver gives p to the talk. An opening is noted by the system before its
// client can write, so looking first makes sure that a new client's bytes never
// reach the session of the one before.
func (s *Console) deliver(p []byte) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.moved(s.watch.look())
	if s.closed || !s.left.IsZero() && time.Since(s.left) < lateFor {
		return
	}
	s.plugged.Store(true)
	if card := s.speed(); card != 0 {
		p = garble(p, s.dev.speed(), card)
	}
	select {
	case s.in <- p:
	default:
	}
}

// speed is that of the card's line, 0 if it takes whatever the client is set to.
func (s *Console) speed() int { return s.c.Source.Device().Card.Settings.Link().SerialBit }

// open is the speed at which the line is found by who sets none.
func (s *Console) open() int {
	if card := s.speed(); card != 0 {
		return card
	}
	return s.c.Baud
}

// look takes note of what happened on the line, also while nobody types.
func (s *Console) look() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	m := s.watch.look()
	s.moved(m)
	return m.any
}

// moved ends the present session, whoever opened or closed the line: it is one
// plug, and counting heads would fail in the one case that matters. A card that does
// not see its plug keeps the session, and what it said to nobody is lost.
func (s *Console) moved(m moves) {
	if !m.any || s.closed {
		return
	}
	s.left = time.Time{}
	s.plugged.Store(m.open)
	stays := s.rules().SerialStays
	if stays {
		s.dev.master.SetWriteDeadline(time.Unix(1, 0)) // who waits for a reader waits no longer
	} else {
		if !m.open {
			s.left = time.Now()
		}
		s.stop()
		s.cut()
		s.held.Store(false)
	}
	s.writing.Lock()
	s.dev.flush()
	if m.closed {
		s.dev.restore(s.open())
	}
	s.claim()
	s.writing.Unlock()
	if !stays {
		s.talk()
	}
}

func (s *Console) rules() *snap.SignInRules { return s.c.Source.Device().Card.Settings.SignInRules() }

// claim refuses the line to others while somebody is signed in on it, if it is set so;
// and where the session does not end with them, lest two share it. It needs s.writing.
func (s *Console) claim() {
	r := s.rules()
	s.dev.claim((r.SerialLock || r.SerialStays) && s.held.Load() && s.plugged.Load())
}

// hold notes for the talk of that life whether somebody is signed in.
func (s *Console) hold(life uint64, signedIn bool) {
	s.writing.Lock()
	defer s.writing.Unlock()
	if s.life.Load() != life {
		return
	}
	s.held.Store(signedIn)
	s.claim()
}

// cut bars the present talk from writing and breaks off a write that waits.
func (s *Console) cut() {
	s.life.Add(1)
	s.dev.master.SetWriteDeadline(time.Unix(1, 0))
}

// talk starts a fresh talk: sessions, one after the other, until it is stopped.
func (s *Console) talk() {
	ctx, stop := context.WithCancel(context.Background())
	in := make(chan []byte, typeAhead)
	s.stop, s.in = stop, in
	out := &writer{s: s, ctx: ctx, life: s.life.Load(), wire: wire{baud: s.c.Baud}}
	s.running.Go(func() {
		defer stop()
		s.sessions(ctx, in, out)
	})
}

func (s *Console) sessions(ctx context.Context, in <-chan []byte, out *writer) {
	options := term.Options{
		Source: s.c.Source,
		By:     snap.Actor{Surface: "serial"},
		Wake:   true,
		Gate:   s.gate,
		Verify: s.c.Verify,
		Idle:   s.c.Idle,
		Edit:   new(term.Editor),
		Held:   func(on bool) { s.hold(out.life, on) },
	}
	for {
		if end := term.Run(ctx, in, out, options); end == term.Cancelled || end == term.Hangup {
			return
		}
	}
}

// writer sends a talk's text at the speed of the line.
type writer struct {
	s    *Console
	ctx  context.Context
	life uint64
	wire wire
}

// Write returns early with an error when the talk was stopped.
func (w *writer) Write(p []byte) (int, error) {
	sent := 0
	for sent < len(p) {
		n := len(p) - sent
		if c := w.wire.chunk(); c > 0 {
			n = min(n, c)
		}
		if err := w.pause(w.wire.take(time.Now(), n)); err != nil {
			return sent, err
		}
		if err := w.s.put(w.life, p[sent:sent+n]); err != nil {
			return sent, err
		}
		sent += n
	}
	return sent, nil
}

func (w *writer) pause(d time.Duration) error {
	if d <= 0 {
		return w.ctx.Err()
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-w.ctx.Done():
		return w.ctx.Err()
	}
}

// put writes p for the talk of that life. If nobody reads for WriteWithin, what
// was not read is forgotten, as on a line without anybody at its end.
func (s *Console) put(life uint64, p []byte) error {
	s.writing.Lock()
	defer s.writing.Unlock()
	// The deadline first: cut counts first and then sets its own, so that one of
	// the two stops a talk that is over.
	s.dev.master.SetWriteDeadline(time.Now().Add(s.c.WriteWithin))
	if s.life.Load() != life {
		return context.Canceled
	}
	if s.rules().SerialStays && !s.plugged.Load() {
		return nil // there is nobody to hear it
	}
	if card := s.speed(); card != 0 {
		p = garble(p, card, s.dev.speed())
	}
	_, err := s.dev.master.Write(p)
	if errors.Is(err, os.ErrDeadlineExceeded) && s.life.Load() == life {
		s.dev.flush()
		return nil
	}
	return err
}
