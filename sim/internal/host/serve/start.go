package serve

import (
	"context"
	"net/netip"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/control"
	"ridethrough/sim/internal/host/proc"
)

// start lets the surfaces serve, says that they do, and starts what was asked
// for. Only then does time begin to run.
func (s *session) start(ctx context.Context) error {
	token := control.NewToken()
	ready, err := s.readyNow(token)
	if err != nil {
		return err
	}
	s.ready = ready
	s.bench = control.New(control.Config{Bench: s.loop, Log: s.log, End: s.end}, token, ready.line())
	s.processes = proc.New(s.c.Dir, ready.environment(), s.c.Programs, s.processEnded)
	for _, u := range s.units {
		u.start(ctx)
	}
	s.sinks.Serve(s.guard)
	s.guard("bench", func() { s.bench.Serve(s.benchL) })
	if err := s.remember(); err != nil {
		return err
	}
	s.record = ready.line()
	if err := announce(&s.c, s.record); err != nil {
		return err
	}
	for _, u := range s.units {
		u.run(ctx)
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
func (s *served) open(f *front) {
	if s.sshd == nil {
		return // start does it
	}
	requests := &desk{gate: s.gate, agent: s.agent, conn: f.udp, odd: f.odd, line: s.line, start: func(read func()) { s.guard("snmp", read) }}
	requests.start(requests.read)
	s.guard("ssh", func() { s.sshd.Serve(door{f.ssh, s.gate, "ssh", s.line}) })
}

// endpoints is where everything is now.
func (s *served) endpoints() Endpoints {
	at := s.fronts.endpoints()
	if s.unit == 0 {
		at.Bench = s.benchL.Addr().String()
	}
	if s.console != nil {
		at.Serial = s.console.Path()
	}
	return at
}

// announceNow has the bench tell where the card is by now.
func (s *session) announceNow() {
	r := s.ready
	r.Units = slices.Clone(r.Units)
	for i, u := range s.units {
		if i == 0 {
			r.Endpoints = u.endpoints()
			continue
		}
		r.Units[i-1].Endpoints = u.endpoints()
	}
	s.bench.Tell(r.line())
}

// goOutside has the site leave to us what goes to servers that have an endpoint.
func (s *served) goOutside() {
	for i := range s.plan.Servers {
		v := &s.plan.Servers[i]
		at := netip.AddrPortFrom(v.Address, v.Port)
		if _, mapped := s.c.Receivers[at]; mapped && (v.Kind == plan.ServerMail || v.Kind == plan.ServerSyslog || v.Sink) {
			s.card.Ask(snap.Command{Op: snap.OpOutside, Text: at.String(), By: snap.Actor{Surface: "serve"}})
		}
	}
}
