package simtest

import (
	"context"
	"strings"
	"time"

	"ridethrough/sim"
)

// T is what a site needs of a test. *testing.T, *testing.B and *testing.F are one.
type T interface {
	Helper()
	Logf(format string, args ...any)
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any) // does not return
	Cleanup(func())
}

// Site is one site, which belongs to one test. Its methods end the test if they
// cannot do what they say, and so they have to be called in the test's own goroutine;
// clients may use the sockets from any.
type Site struct {
	sim.Access // where the card is, and what opens it

	t       T
	session *sim.Session
	config  config
	result  *sim.Result // once it is closed
}

// Start starts a site, which ends with the test. Time stands at 0.
func Start(t T, from Source, opts ...Option) *Site {
	t.Helper()
	s := &Site{t: t, config: config{serve: sim.ServeOptions{Paused: true, Keep: true}}}
	for _, opt := range opts {
		opt(&s.config)
	}
	scenario, err := from(s.config.load...)
	if err != nil {
		t.Fatalf("simtest: %v", err)
	}
	if s.config.serve.Log == nil {
		s.config.serve.Log = func(line string) { t.Logf("simtest: %s", line) }
	}
	s.session, err = sim.Start(context.Background(), scenario, s.config.serve)
	if err != nil {
		t.Fatalf("simtest: %v", err)
	}
	s.Access = s.session.Access
	t.Cleanup(s.finish)
	return s
}

// finish closes the site and judges it.
func (s *Site) finish() {
	s.t.Helper()
	result := s.Close()
	if result == nil || s.config.unjudged || result.Met() {
		return
	}
	var b strings.Builder
	result.Short(&b)
	s.t.Errorf("simtest: %s: expectations were not met\n%s", result.Scenario, b.String())
}

// Close ends the site before the test ends, and is what it came to. A second call is
// the same result.
func (s *Site) Close() *sim.Result {
	s.t.Helper()
	if s.result == nil {
		result, err := s.session.Close()
		if err != nil {
			s.t.Errorf("simtest: %v", err)
			return nil
		}
		s.result = result
	}
	return s.result
}

// Now is how much simulated time has passed since the start.
func (s *Site) Now() time.Duration { return s.session.Time().Now }

// Advance lets d pass at once. Time stands afterwards.
func (s *Site) Advance(d time.Duration) {
	s.t.Helper()
	_, err := s.session.Advance(context.Background(), d)
	s.must("advance by "+d.String(), err)
}

// WaitFor waits until a condition of the expression language of scenarios holds, and
// ends the test if it does not within that much simulated time. Time that stands is
// advanced to the millisecond at which the condition holds; time that runs goes on.
func (s *Site) WaitFor(condition string, within time.Duration) {
	s.t.Helper()
	if r := s.until(condition, within); !r.Held {
		s.t.Fatalf("simtest: %s did not hold within %v, by %v: %s", condition, within, r.Now, r.Values)
	}
}

// Until is WaitFor for a test that goes on either way: it says whether the condition
// holds.
func (s *Site) Until(condition string, within time.Duration) bool {
	s.t.Helper()
	return s.until(condition, within).Held
}

// Holds says whether a condition holds now.
func (s *Site) Holds(condition string) bool {
	s.t.Helper()
	r, err := s.session.Wait(context.Background(), condition, 0)
	s.must("look", err)
	return r.Held
}

func (s *Site) until(condition string, within time.Duration) sim.Reached {
	s.t.Helper()
	wait := s.session.AdvanceUntil
	if s.session.Time().Running {
		wait = s.session.Wait
	}
	r, err := wait(context.Background(), condition, within)
	s.must("wait", err)
	return r
}

// Pause has time stand.
func (s *Site) Pause() { s.t.Helper(); s.must("pause", s.session.Pause()) }

// Resume has time run, at 0.1 to 3600 simulated seconds per real second.
func (s *Site) Resume(speed float64) { s.t.Helper(); s.must("resume", s.session.Resume(speed)) }

// Inject lets something happen now: entry is a timeline entry of a scenario without
// time and when, such as `source = "lost"`.
func (s *Site) Inject(entry string) { s.t.Helper(); s.must("inject", s.session.Send(entry)) }

// Snapshot is the truth about the site: what the card shows may be something else.
func (s *Site) Snapshot() sim.Truth { return s.session.State() }

// Observations is what happened until now, oldest first; of more than 10,000 the
// latest.
func (s *Site) Observations() []sim.Observation {
	list, _ := s.session.Observations(0)
	return list
}

// Verdict is how the expectations of the scenario stand now, in their order.
func (s *Site) Verdict() []sim.Verdict {
	s.t.Helper()
	list, err := s.session.Verdicts()
	s.must("judge", err)
	return list
}

func (s *Site) must(what string, err error) {
	s.t.Helper()
	if err != nil {
		s.t.Fatalf("simtest: cannot %s: %v", what, err)
	}
}
