package record

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/bundle"
	"ridethrough/sim/internal/host/pace"
)

// Config is what to record, and how gently.
type Config struct {
	Agent    string // HOST:PORT
	Login    Login
	Interval time.Duration // from one reading to the next
	For      time.Duration // 0: until ctx is done
	Timeout  time.Duration // for an answer
	Retries  int
	Rate     float64   // requests in a second at most
	Also     []ber.OID // parts of the tree beside [Roots]
	Listen   string    // where notifications are sent; "": nowhere
	Scrub    bool
	Program  string // that records
	// Log receives talk for people, a line a call.
	Log func(string)
	// Listening is told where notifications are heard.
	Listening func(at string)
}

// Summary is what was recorded.
type Summary struct {
	Readings, Notices, Gaps int
	Strange, Lost           int64 // datagrams to the listener that were not from the card or not understood; that found no room
	Clocks                  bundle.Clocks
	Whole                   bool // it went on for as long as it should
}

// NoAnswerError is a card that did not answer the first time.
type NoAnswerError struct{ Why string }

// Error says why, in one line.
func (e *NoAnswerError) Error() string { return e.Why }

// BindError is a listener that could not be.
type BindError struct{ Err error }

// Error says why, in one line.
func (e *BindError) Error() string { return e.Err.Error() }

// Unwrap is the cause.
func (e *BindError) Unwrap() error { return e.Err }

// recorder is one recording under way.
type recorder struct {
	*Config
	clock  *pace.Clock
	poller poller
	client *gosnmp.GoSNMP
	ears   *listener // nil: nobody listens
	hears  sync.WaitGroup
	out    *bundle.Writer
	silent string // why the last reading did not come; "": it did
}

// Record writes to out what the card answers, until ctx is done or the time is up. The
// error is a *[NoAnswerError] for a card that does not answer from the beginning, a
// *[BindError], or that of out.
func Record(ctx context.Context, c Config, out io.Writer) (*Summary, error) {
	clock, err := pace.New(1)
	if err != nil {
		return nil, err
	}
	start := time.Now()
	clock.Start()
	r := &recorder{Config: &c, clock: clock}
	r.poller = poller{
		bulk: c.Login.Version != "1", clock: clock, say: c.Log,
		pause: time.Duration(float64(time.Second) / c.Rate), roots: append(Roots(), c.Also...),
	}
	r.poller.met = make([]bool, len(r.poller.roots))
	if err := r.listen(ctx); err != nil {
		return nil, &BindError{err}
	}
	defer r.close()
	first, err := r.read(ctx)
	if err != nil {
		return nil, &NoAnswerError{brief(err)}
	}
	if len(first.Objects) == 0 {
		return nil, &NoAnswerError{"the agent answers, but serves nothing of RFC 1628 or its neighbours to this login"}
	}
	var scrub *bundle.Scrubber
	if c.Scrub {
		scrub = &bundle.Scrubber{}
		scrub.Hide(c.Login.Community.Reveal())
		scrub.Hide(c.Login.User.Name)
	}
	if r.out, err = bundle.NewWriter(out, bundle.Header{Start: start, Interval: c.Interval, Version: c.Login.Version, Program: c.Program}, scrub); err != nil {
		return nil, err
	}
	if err := r.out.Reading(*first); err != nil {
		return nil, err
	}
	return r.follow(ctx)
}

func (r *recorder) listen(ctx context.Context) (err error) {
	if r.Listen == "" {
		return nil
	}
	if r.ears, err = listen(ctx, r.Listen, r.Agent, r.clock, &r.Login); err != nil {
		return err
	}
	r.hears.Go(r.ears.run) // at once: the first reading of a slow card takes long
	if r.Listening != nil {
		r.Listening(r.ears.conn.LocalAddr().String())
	}
	return nil
}

func (r *recorder) close() {
	if r.client != nil {
		r.client.Conn.Close()
	}
	r.deafen()
}

// deafen ends the listening, once what was heard last is acknowledged.
func (r *recorder) deafen() {
	if r.ears != nil {
		r.ears.conn.SetReadDeadline(time.Unix(1, 0)) // long past
		r.hears.Wait()
		r.ears.conn.Close()
	}
}

// read is one reading. After one that failed there is a new client: the card may have
// another engine by now.
func (r *recorder) read(ctx context.Context) (*bundle.Reading, error) {
	at := r.clock.Elapsed()
	if r.client == nil {
		client, err := r.Login.dial(r.Agent, r.Timeout, r.Retries)
		if err != nil {
			return nil, err
		}
		client.Context = ctx
		r.client, r.poller.asker = client, client
	}
	objects, err := r.poller.read(ctx)
	if err != nil {
		r.client.Conn.Close()
		r.client = nil
		return nil, err
	}
	return &bundle.Reading{At: at, Took: r.clock.Elapsed() - at, Objects: objects}, nil
}

// follow reads on until the end, and closes the bundle.
func (r *recorder) follow(ctx context.Context) (*Summary, error) {
	var heard chan bundle.Notice
	if r.ears != nil {
		heard = r.ears.heard
	}
	whole, err := r.loop(ctx, heard)
	r.deafen()
	for len(heard) > 0 && err == nil {
		err = r.out.Notice(<-heard)
	}
	if err != nil {
		return nil, err
	}
	if err := r.out.Close(r.clock.Elapsed()); err != nil {
		return nil, err
	}
	s := &Summary{Clocks: *r.out.Clocks(), Whole: whole}
	s.Readings, s.Notices, s.Gaps = r.out.Counts()
	if r.ears != nil {
		s.Strange, s.Lost = r.ears.strange.Load(), r.ears.lost.Load()
	}
	return s, nil
}

// loop says whether it ended because the time was up.
func (r *recorder) loop(ctx context.Context, heard <-chan bundle.Notice) (whole bool, err error) {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for due := r.Interval; ; {
		if r.For > 0 && due > r.For {
			due = r.For
		}
		timer.Reset(max(0, due-r.clock.Elapsed()))
		select {
		case <-ctx.Done():
			return false, nil
		case n := <-heard:
			if err := r.out.Notice(n); err != nil {
				return false, err
			}
			continue
		case <-timer.C:
		}
		if r.For > 0 && due >= r.For {
			return true, nil
		}
		if err := r.turn(ctx); err != nil || ctx.Err() != nil {
			return false, err
		}
		for due <= r.clock.Elapsed() { // a slow card makes readings that were due pass by
			due += r.Interval
		}
	}
}

// turn takes one reading, or notes why there is none.
func (r *recorder) turn(ctx context.Context) error {
	at := r.clock.Elapsed()
	reading, err := r.read(ctx)
	switch {
	case ctx.Err() != nil:
		return nil
	case err == nil:
		if r.silent != "" {
			r.Log("the card answers again")
			r.silent = ""
		}
		return r.out.Reading(*reading)
	}
	why := brief(err)
	if why != r.silent {
		r.Log(fmt.Sprintf("no reading after %s: %s", at.Round(time.Second), why))
		r.silent = why
	}
	return r.out.Gap(bundle.Gap{At: at, Why: why})
}

// IsNoAnswer says whether err is that of a card that did not answer.
func IsNoAnswer(err error) bool {
	var none *NoAnswerError
	return errors.As(err, &none)
}
