package serve

import (
	"context"
	"net/netip"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/control"
	"ridethrough/sim/internal/host/proc"
)

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

// open has a front serve, once the session does.
func (s *session) open(f *front) {
	if s.sshd == nil {
		return // start does it
	}
	requests := &desk{admits: func(from netip.Addr) bool { return s.gate.admits("snmp", from) }, agent: s.agent, conn: f.udp, odd: f.odd, start: func(read func()) { s.guard("snmp", read) }}
	requests.start(requests.read)
	s.guard("ssh", func() { s.sshd.Serve(door{f.ssh, s.gate, "ssh"}) })
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
