package sim

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/host/control"
	"ridethrough/sim/internal/host/pace"
	"ridethrough/sim/internal/host/serve"
)

// Session is a scenario that is served in this process, with the bench at hand. Its
// methods are safe for concurrent use. Those that ask something of it fail with
// [ErrEnded] once it has ended, and with [ErrBusy] if too much waits already.
type Session struct {
	Access

	live   *live
	served *serve.Live
	closed func() error
}

// Access is how the card and the bench are reached: addresses as host:port, and what
// opens them.
type Access struct {
	SNMP, SSH, Bench string
	Serial           string // path of the serial line; "" where the system has none

	ReadCommunity, WriteCommunity string
	SNMPUsers                     []string // names of the SNMPv3 users; their passwords stand in the scenario
	SerialNumber                  string   // of the card's label
	User, Password                string   // likewise
	Token                         string   // of the bench

	Units map[string]Access // the further units of the site, by name: without bench, token and sinks

	Sinks  map[string]string // host:port of the scenario's servers with sink = true, by name
	CAFile string            // with the certificate of those of mail and syslog; "" without one
}

// Truth is the state of a site. Its fields are those of docs/json.md, State.
type Truth = control.State

// Time is how time goes in a session.
type Time struct {
	Now     time.Duration // simulated, since the start
	Running bool          // false: it stands
	Speed   float64       // simulated seconds per real second, while it runs
	Ended   bool          // the run has come to its end
}

// Reached is where a wait ended.
type Reached struct {
	Now    time.Duration
	Held   bool   // the condition holds
	Values string // what the variables of the condition are, for people
	Ended  bool   // the run has come to its end
}

// Observation is one thing that happened in a session.
type Observation struct {
	ID            uint64 // from 1
	At            time.Duration
	Subject, Text string
	FedBy         string  // what feeds the output after that instant, in the words of RFC 1628
	ChargePct     float64 // the battery's true charge
}

// What a [Session] fails with.
var (
	ErrEnded    = errors.New("the session has ended")
	ErrBusy     = errors.New("too much waits for the session already")
	ErrAdvanced = errors.New("somebody else advances time at present")
)

// Start serves s beside the caller, and returns once everything is ready. The caller
// has to close the session. Errors are those of [Serve].
func Start(ctx context.Context, s *Scenario, opts ServeOptions) (*Session, error) {
	l, c, err := s.prepare(&opts)
	if err != nil {
		return nil, err
	}
	served, err := serve.Start(ctx, c)
	if err != nil {
		l.release()
		return nil, serveError(err)
	}
	session := &Session{Access: accessOf(served.Where()), live: l, served: served}
	session.closed = sync.OnceValue(session.close)
	return session, nil
}

func accessOf(r serve.Ready) Access {
	sinks, ca := map[string]string{}, ""
	for _, k := range r.Sinks {
		sinks[k.Name], ca = k.Endpoint, cmp.Or(ca, k.CAFile)
	}
	a := accessTo(&r.Card)
	a.Bench, a.Token, a.Sinks, a.CAFile, a.Units = r.Endpoints.Bench, r.BenchToken, sinks, ca, map[string]Access{}
	for i := range r.Units {
		a.Units[r.Units[i].Name] = accessTo(&r.Units[i].Card)
	}
	return a
}

func accessTo(c *serve.Card) Access {
	return Access{
		SNMP: c.Endpoints.SNMP, SSH: c.Endpoints.SSH, Serial: c.Endpoints.Serial,
		ReadCommunity: c.ReadCommunity, WriteCommunity: c.WriteCommunity, SNMPUsers: c.SNMPUsers,
		SerialNumber: c.Label.SerialNumber, User: c.Label.User, Password: c.Label.Password,
	}
}

// Close ends the session as it stands, and is what it came to; so is a second call.
// Errors are those of [Serve].
func (s *Session) Close() (*Result, error) {
	if err := s.closed(); err != nil {
		return nil, err
	}
	return s.live.result, nil
}

func (s *Session) close() error {
	s.served.Stop()
	_, err := s.served.Wait()
	s.live.release()
	if err != nil {
		return serveError(err)
	}
	return nil
}

// Time is how time goes now.
func (s *Session) Time() Time { return timeOf(s.served.Loop().Clock()) }

func timeOf(c engine.Clock) Time {
	return Time{Now: c.Now.Duration(), Running: c.Running, Speed: c.Speed, Ended: c.Ended}
}

// Pause has simulated time stand.
func (s *Session) Pause() error {
	running := false
	return s.turn(engine.Turn{Running: &running})
}

// Resume has simulated time run, at 0.1 to 3600 simulated seconds per real second; 0
// means as fast as it ran before.
func (s *Session) Resume(speed float64) error {
	running := true
	turn := engine.Turn{Running: &running}
	if speed != 0 {
		if err := pace.Check(speed); err != nil {
			return &InvalidError{What: err.Error(), text: err.Error()}
		}
		turn.Speed = &speed
	}
	return s.turn(turn)
}

func (s *Session) turn(t engine.Turn) error {
	t.By = tester
	_, result := s.served.Loop().Turn(t)
	return benchError(result)
}

// tester is who drives a session in its own process.
var tester = snap.Actor{Surface: "bench"}

// Advance lets simulated time pass as fast as it can, to the millisecond, and then
// stand. Unless the session is to be kept it stops at the end of the run.
func (s *Session) Advance(ctx context.Context, by time.Duration) (Reached, error) {
	return s.wait(ctx, engine.Wait{Advance: true}, by)
}

// AdvanceUntil is Advance that stops where a condition of the expression language
// holds, at the latest after within. The error is an *InvalidError for a condition that
// does not compile.
func (s *Session) AdvanceUntil(ctx context.Context, condition string, within time.Duration) (Reached, error) {
	return s.waitFor(ctx, engine.Wait{Until: condition, Advance: true}, within)
}

// Wait waits for a condition while time goes as it goes. Errors are as for
// AdvanceUntil.
func (s *Session) Wait(ctx context.Context, condition string, within time.Duration) (Reached, error) {
	return s.waitFor(ctx, engine.Wait{Until: condition}, within)
}

func (s *Session) waitFor(ctx context.Context, w engine.Wait, within time.Duration) (Reached, error) {
	if w.Until == "" {
		const what = "the condition is empty"
		return Reached{}, &InvalidError{What: what, text: what}
	}
	return s.wait(ctx, w, within)
}

func (s *Session) wait(ctx context.Context, w engine.Wait, most time.Duration) (Reached, error) {
	if most < 0 {
		what := fmt.Sprintf("%v: expected a duration that is not negative", most)
		return Reached{}, &InvalidError{What: what, text: what}
	}
	w.For, w.By = vtime.FromDuration(most), tester
	o, result := s.served.Loop().Wait(ctx.Done(), w)
	if ctx.Err() != nil {
		return Reached{}, ctx.Err()
	}
	return Reached{Now: o.Now.Duration(), Held: o.Held, Values: o.Values, Ended: o.Ended}, benchError(result)
}

// Send lets something happen now: entry is a timeline entry without time and when, as
// TOML. The error is an *InvalidError for one that is wrong.
func (s *Session) Send(entry string) error {
	return benchError(s.served.Loop().Submit(snap.Command{Op: snap.OpInject, Text: entry, By: tester}))
}

// State is the truth about the site, as of the last thing that happened.
func (s *Session) State() Truth { return control.StateOf(s.served.Loop().Site()) }

// Observations is what happened after the observation with that number, as far as it
// is kept, and how many are not kept any more: the latest 10,000 are.
func (s *Session) Observations(since uint64) (list []Observation, lost uint64) {
	kept, _ := s.served.Observed().After(since, control.MaxKept)
	for _, o := range kept.Observations {
		list = append(list, Observation{
			ID: o.ID, At: vtime.Tick(o.AtMS).Duration(), Subject: o.Subject, Text: o.Text, FedBy: o.FedBy, ChargePct: o.ChargePct,
		})
	}
	return list, kept.Lost
}

// Verdicts is how the expectations stand now, in the order of the file.
func (s *Session) Verdicts() ([]Verdict, error) {
	standing, _, _, result := s.served.Loop().Standing()
	var list []Verdict
	for _, v := range standing {
		list = append(list, Verdict{v.Name, v.Form, State(v.State.String()), v.At.Duration(), v.Because})
	}
	return list, benchError(result)
}

func benchError(r snap.Result) error {
	switch r.Status {
	case snap.Done:
		return nil
	case snap.Gone:
		return ErrEnded
	case snap.Busy:
		return ErrBusy
	case snap.Inconsistent:
		return ErrAdvanced
	}
	return &InvalidError{What: r.Reason, text: r.Reason}
}
