package serve

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/face/sshd"
	"ridethrough/sim/internal/host/control"
	"ridethrough/sim/internal/host/login"
	"ridethrough/sim/internal/host/pace"
	"ridethrough/sim/internal/host/proc"
	"ridethrough/sim/internal/host/pty"
	"ridethrough/sim/internal/host/sink"
)

// session is everything that is open while a scenario is served.
type session struct {
	c     Config
	clock *pace.Clock
	loop  *engine.Loop

	fronts     fronts
	follow     *follower // nil: the surfaces stay where they are
	benchL     net.Listener
	console    *pty.Console
	agent      *snmp.Agent
	sshd       *sshd.Server
	bench      *control.Server
	notify     *sender
	gate       *gate
	times      *timeClient
	logins     *login.Desk
	running    context.Context // of what is started while the session runs
	posts      *poster
	sinks      *sink.Set
	processes  *proc.Runner
	temporary  string
	program    sync.WaitGroup
	background sync.WaitGroup
	stop       context.CancelFunc

	log       *control.Log
	concluded chan struct{} // closed when there is a result, or will be none
	result    []byte        // then
	failed    error         // then

	early []snap.Effect // of the first frame, before programs could start

	fault  atomic.Pointer[FaultError] // the first panic of a surface
	lost   atomic.Pointer[error]      // of the memory
	record []byte                     // what was announced
	ready  Ready                      // likewise

	hostKeys uint32 // made so far, as the loop has seen it
	keyTurn  sync.Mutex
	keyed    uint32 // the last one made, under keyTurn
}

// Run serves c until the run ends, PROGRAM ends, the bench ends it or ctx is done,
// and says whether it was the last. Whatever was opened is closed when it returns.
func Run(ctx context.Context, c Config) (interrupted bool, err error) {
	s, err := prepare(ctx, c)
	if err != nil {
		return false, err
	}
	defer s.close()
	return s.play(ctx)
}

// prepare makes everything ready; nothing is left open if it fails.
func prepare(ctx context.Context, c Config) (*session, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	c.Programs, c.Log = &lockedWriter{w: c.Programs}, lockedLog(c.Log)
	s := &session{c: c, log: control.NewLog(), concluded: make(chan struct{}), failed: errors.New("the session failed")}
	var err error
	if s.clock, err = pace.New(c.Speed); err != nil {
		return nil, err
	}
	s.loop = engine.NewLoop(s.clock, c.First, s.each, c.Record)
	s.loop.Begin(c.Speed, !c.Paused)
	s.agent = newAgent(s.loop, s.clock)
	s.times = newTimeClient(&c, s.loop.Submit)
	if err := s.begin(ctx); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

func (s *session) begin(ctx context.Context) error {
	if err := s.bind(ctx); err != nil {
		return err
	}
	s.running, s.stop = context.WithCancel(ctx)
	return s.start(s.running)
}

// play runs the loop to its end, and comes to the result.
func (s *session) play(ctx context.Context) (interrupted bool, err error) {
	defer close(s.concluded)
	s.loop.Run(s.running, s.c.Engine, s.c.Keep)
	interrupted = ctx.Err() != nil && !s.c.Engine.Ended()
	s.result, s.failed = s.conclude(interrupted)
	return interrupted, s.failed
}

func (s *session) conclude(interrupted bool) ([]byte, error) {
	s.farewell()
	if fault := s.fault.Load(); fault != nil {
		return nil, fault
	}
	if err := s.forget(); err != nil {
		return nil, err
	}
	return s.c.Conclude(interrupted)
}

// end ends the session for the bench and is its result, unless done is closed
// before there is one.
func (s *session) end(done <-chan struct{}) ([]byte, error) {
	s.stop()
	select {
	case <-s.concluded:
		return s.result, s.failed
	case <-done:
		return nil, errors.New("nobody waits for the result")
	}
}

// bind opens every surface before any of them serves.
func (s *session) bind(ctx context.Context) error {
	var lc net.ListenConfig
	if err := s.bindFronts(ctx); err != nil {
		return err
	}
	var err error
	if s.benchL, err = lc.Listen(ctx, "tcp", s.c.Bench); err != nil {
		return &BindError{Surface: "bench", Address: s.c.Bench, Err: cause(err)}
	}
	s.logins = s.newLogins()
	if err := s.openSerial(); err != nil {
		return err
	}
	if err := s.openSinks(); err != nil {
		return err
	}
	s.notify = openSender(ctx, &s.c, s.agent, s.loop.Submit)
	s.notify.reaches = s.gate.reaches
	if err := s.notify.follow(s.c.First.Site.Card.Settings.Alerting()); err != nil {
		return err
	}
	s.posts = newPoster(s.c.Receivers, s.loop.Submit, s.c.Log)
	return s.openSSH()
}

// bindFronts binds the network surfaces: where the flags say, or at the card's own
// addresses.
func (s *session) bindFronts(ctx context.Context) error {
	s.gate = newGate(&s.c, s.loop.Site)
	if !s.c.Real {
		f, err := openFront(ctx, s.c.SNMP, s.c.SSH, s.c.Log)
		if err == nil {
			s.fronts.add(f)
		}
		return err
	}
	s.fronts.snmp, s.fronts.ssh = portOf(s.c.SNMP), portOf(s.c.SSH)
	s.follow = newFollower(s)
	if err := s.follow.plug(); err != nil {
		return err
	}
	return s.follow.begin(ctx, &s.c.First.Site.Device)
}

// open has a front serve, once the session does.
func (s *session) open(f *front) {
	if s.sshd == nil {
		return // start does it
	}
	requests := &desk{admits: func(from netip.Addr) bool { return s.gate.admits("snmp", from) }, agent: s.agent, conn: f.udp, odd: f.odd, start: func(read func()) { s.guard("snmp", read) }}
	requests.start(requests.read)
	s.guard("ssh", func() { s.sshd.Serve(door{f.ssh, s.gate, "ssh"}) })
}

// cause is err without the address, which the message names already.
func cause(err error) error {
	var op *net.OpError
	if errors.As(err, &op) {
		return op.Err
	}
	return err
}

func (s *session) openSerial() (err error) {
	link := s.c.Serial
	if link == "" {
		if s.temporary, err = os.MkdirTemp("", "ridethrough-"); err != nil {
			return &BindError{Surface: "serial", Address: "a temporary folder", Err: err}
		}
		link = filepath.Join(s.temporary, "serial")
	}
	s.console, err = pty.Open(pty.Config{Source: s.loop, Verify: s.verify, Link: link, Baud: s.c.Baud})
	if errors.Is(err, pty.ErrUnsupported) && s.c.Serial == "" {
		s.c.Log(err.Error())
		return nil
	}
	if err != nil {
		return &BindError{Surface: "serial", Address: link, Err: err}
	}
	return nil
}

func (s *session) openSSH() (err error) {
	key, err := s.hostKey()
	if err != nil {
		return err
	}
	if key == nil {
		key = s.derived(0)
	}
	s.sshd, err = sshd.New(sshd.Config{
		Source: s.loop, HostKey: key, Verify: s.verify,
		OnPanic: func(value any, stack []byte) { s.c.Log(fmt.Sprintf("ssh: internal fault: %v\n%s", value, stack)) },
	})
	if err != nil {
		return err
	}
	print, err := s.sshd.ChangeHostKey(key)
	s.loop.Ask(snap.Command{Op: snap.OpHostKey, Text: print, By: snap.Actor{Surface: "serve"}})
	return err
}

// newLogins asks real servers who knows users, where a scenario's are mapped to some.
func (s *session) newLogins() *login.Desk {
	return login.New(login.Config{
		Device: s.loop.Device, Now: s.loop.Now, Log: s.c.Log, Reaches: s.gate.reaches,
		Shown: func(of snap.ServerKey, expires time.Time) { s.posts.shown(of, expires) },
		Endpoint: func(at netip.AddrPort) (string, bool) {
			to, ok := s.c.Receivers[at]
			return to, ok
		},
	})
}

// verify asks who knows users.
func (s *session) verify(ctx context.Context, by snap.Actor, password string) snap.Verdict {
	return s.logins.Verify(ctx, by, password)
}

// start lets the surfaces serve, says that they do, and starts what was asked
// for. Only then does time begin to run.
func (s *session) start(ctx context.Context) error {
	token := control.NewToken()
	ready := readyOf(s.c.Scenario, s.c.Plan, &s.c.First.Site.Card, s.endpoints(), token)
	var err error
	if ready.Sinks, err = s.readySinks(); err != nil {
		return err
	}
	s.ready = ready
	s.bench = control.New(control.Config{Bench: s.loop, Log: s.log, End: s.end}, token, ready.line())
	s.processes = proc.New(s.c.Dir, ready.environment(), s.c.Programs, s.processEnded)
	for _, f := range s.fronts.list {
		s.open(f)
	}
	s.sinks.Serve(s.guard)
	s.guard("snmp", func() { s.agent.Run(ctx) })
	s.guard("bench", func() { s.bench.Serve(s.benchL) })
	if err := s.remember(); err != nil {
		return err
	}
	s.record = ready.line()
	if err := announce(&s.c, s.record); err != nil {
		return err
	}
	s.guard("time", s.times.announce)
	s.goOutside()
	s.guard("access list", func() { s.gate.away.run(ctx, s.loop.Submit) })
	if s.follow != nil {
		s.guard("network", func() { s.follow.run(ctx) })
	}
	if s.clock.StartStanding(); !s.c.Paused {
		s.clock.Start()
	}
	for _, e := range s.early {
		s.carryOut(e)
	}
	s.early = nil
	return s.startProgram(ctx, ready.benchEnvironment())
}

// endpoints is where everything is now.
func (s *session) endpoints() Endpoints {
	at := s.fronts.endpoints()
	at.Bench = s.benchL.Addr().String()
	if s.console != nil {
		at.Serial = s.console.Path()
	}
	return at
}

// announceNow has the bench tell where the card is by now.
func (s *session) announceNow() {
	r := s.ready
	r.Endpoints = s.endpoints()
	s.bench.Tell(r.line())
}

// goOutside has the site leave to us what goes to servers that have an endpoint.
func (s *session) goOutside() {
	for i := range s.c.Plan.Servers {
		v := &s.c.Plan.Servers[i]
		at := netip.AddrPortFrom(v.Address, v.Port)
		if _, mapped := s.c.Receivers[at]; mapped && (v.Kind == plan.ServerMail || v.Kind == plan.ServerSyslog || v.Sink) {
			s.loop.Ask(snap.Command{Op: snap.OpOutside, Text: at.String(), By: snap.Actor{Surface: "serve"}})
		}
	}
}

// each sees every frame, in the loop's goroutine.
func (s *session) each(f engine.Frame) {
	if s.follow != nil {
		s.follow.see(&f.Site.Device)
	}
	s.made(f.Site.Card.Made())
	for _, e := range f.Effects {
		if s.processes == nil {
			s.early = append(s.early, e)
			continue
		}
		s.carryOut(e)
	}
	s.log.Add(f.Events, f.Site)
	s.c.Each(f)
}

func (s *session) carryOut(e snap.Effect) {
	switch e.Kind {
	case snap.EffectNotify:
		s.notify.send(e.Notification, &s.loop.Device().Card)
	case snap.EffectPost:
		s.guard("mail", func() { s.posts.send(s.running, e.Post) })
	case snap.EffectKill:
		s.processes.Kill(e.Host)
	case snap.EffectTime:
		s.times.ask(s.running, *e.Time)
	case snap.EffectLease:
		s.sendLease(*e.Lease)
	case snap.EffectSpawn:
		s.spawn(proc.Run{Host: e.Host, Number: e.Run})
	}
}

// sendLease is for the card on an interface alone: no other asks real servers.
func (s *session) sendLease(q snap.LeaseQuery) {
	if s.follow != nil && s.follow.port != nil {
		s.follow.port.Send(q)
	}
}

func (s *session) spawn(run proc.Run) {
	for i := range s.c.Plan.Hosts {
		if h := &s.c.Plan.Hosts[i]; h.Name == run.Host {
			if err := s.processes.Start(run, h.Process); err != nil {
				s.c.Log(err.Error())
				s.guard("process", func() { s.processEnded(run, -1) })
			}
		}
	}
}

// processEnded carries the end of a host's program to the engine, which may
// itself be waiting for the runner: it never runs in the loop's goroutine. A
// full inbox is tried again: nobody else will tell.
func (s *session) processEnded(run proc.Run, code int) {
	end := snap.Command{
		Op: snap.OpProcEnded, Host: run.Host, Run: run.Number, Code: code, By: snap.Actor{Surface: "process"},
	}
	for s.loop.Submit(end).Status == snap.Busy {
		time.Sleep(time.Millisecond)
	}
}

// guard runs a surface. A panic in it ends the session as a fault, in order.
func (s *session) guard(surface string, run func()) {
	s.background.Go(func() {
		defer func() {
			if v := recover(); v != nil {
				s.fault.CompareAndSwap(nil, &FaultError{Surface: surface, Value: v, Stack: debug.Stack()})
				s.stop()
			}
		}()
		run()
	})
}

// close ends everything in order: programs first, then the surfaces.
func (s *session) close() {
	withdraw(s.c.ReadyFile, s.record)
	s.loop.End()
	if s.stop != nil {
		s.stop()
	}
	s.program.Wait()
	if s.processes != nil {
		s.processes.Close()
	}
	if s.bench != nil {
		s.bench.Close()
	}
	if s.sshd != nil {
		s.sshd.Close()
	}
	if s.benchL != nil {
		s.benchL.Close()
	}
	s.fronts.drop(nil)
	if s.sinks != nil {
		s.sinks.Close()
	}
	if s.console != nil {
		s.console.Close()
	}
	if s.notify != nil {
		s.notify.close()
	}
	if s.times != nil {
		s.times.close()
	}
	s.background.Wait()
	s.fronts.drop(nil) // what was bound meanwhile
	if s.follow != nil && s.follow.port != nil {
		s.follow.port.Close()
	}
	if s.posts != nil {
		s.posts.syslog.Close()
	}
	if s.temporary != "" {
		os.RemoveAll(s.temporary)
	}
}
