package serve

import (
	"cmp"
	"context"
	"crypto"
	"strings"
	"sync"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/face/sshd"
	"ridethrough/sim/internal/host/login"
	"ridethrough/sim/internal/host/pty"
)

// served is the card of one unit with its surfaces.
type served struct {
	*session
	unit    int
	plan    *plan.Plan // of the unit
	card    *engine.Window
	at      where
	hostKey crypto.Signer // that was given; nil: none was

	fronts  fronts
	follow  *follower // nil: the surfaces stay where they are
	console *pty.Console
	agent   *snmp.Agent
	sshd    *sshd.Server
	notify  *sender
	gate    *gate
	line    *line
	times   *timeClient
	logins  *login.Desk
	posts   *poster

	hostKeys uint32 // made so far, as the loop has seen it
	keyTurn  sync.Mutex
	keyed    uint32 // the last one made, under keyTurn
}

// where is where a card's surfaces are meant to be.
type where struct {
	snmp, ssh string // host:port; with Real :port
	serial    string // path of the link; "": a temporary one
}

// serveUnits makes the cards of all units. What was said of surfaces is said of them in
// order; where nothing was, they take what is free.
func (s *session) serveUnits() {
	for i, p := range s.c.Plan.All() {
		u := &served{session: s, unit: i, plan: p, card: s.loop.Window(i), at: s.c.where(i)}
		if i == 0 {
			u.hostKey = s.c.HostKey
		}
		u.agent = newAgent(u.card, s.clock)
		u.times = newTimeClient(&s.c, p, u.card.Submit)
		s.units = append(s.units, u)
	}
}

// name is what the card is called in talk.
func (s *served) name() string {
	if s.unit == 0 {
		return "the card"
	}
	return "the card of unit " + s.plan.UnitName
}

// where is where the surfaces of a unit's card are meant to be.
func (c *Config) where(unit int) where {
	at := where{snmp: part(c.SNMP, unit), ssh: part(c.SSH, unit), serial: part(c.Serial, unit)}
	usual := where{snmp: free, ssh: free}
	if c.Real { // each has addresses of its own, and so the same ports
		at.snmp, at.ssh = part(c.SNMP, 0), part(c.SSH, 0)
		usual = where{snmp: ":161", ssh: ":22"}
	}
	at.snmp, at.ssh = cmp.Or(at.snmp, usual.snmp), cmp.Or(at.ssh, usual.ssh)
	return at
}

// whereBench is where the bench is meant to be.
func (c *Config) whereBench() string { return cmp.Or(c.Bench, free) }

// part is what stands for the i-th unit in a list with commas, "" if nothing does.
func part(list string, i int) string {
	parts := strings.Split(list, ",")
	if i >= len(parts) {
		return ""
	}
	return strings.TrimSpace(parts[i])
}

// bind opens every surface before any of them serves.
func (s *served) bind(ctx context.Context) error {
	if err := s.bindFronts(ctx); err != nil {
		return err
	}
	s.logins = s.newLogins()
	if err := s.openSerial(); err != nil {
		return err
	}
	s.notify = openSender(ctx, &s.c, s.agent, s.card.Submit)
	s.notify.reaches, s.notify.line = s.gate.reaches, s.line
	s.notify.own = s.follow != nil
	if err := s.notify.follow(&s.card.Site().Card); err != nil {
		return err
	}
	s.posts = newPoster(s.c.Receivers, s.card.Submit, s.c.Log)
	return s.openSSH()
}

// start lets the surfaces serve.
func (s *served) start(ctx context.Context) {
	for _, f := range s.fronts.list {
		s.open(f)
	}
	s.guard("snmp", func() { s.agent.Run(ctx) })
}

// run has the card do what it does by itself.
func (s *served) run(ctx context.Context) {
	s.guard("time", s.times.announce)
	s.goOutside()
	s.guard("link", func() { s.line.wire.Run(ctx, s.card.Submit) })
	s.guard("access list", func() { s.gate.away.run(ctx, s.card.Submit) })
	if s.follow != nil {
		s.guard("network", func() { s.follow.run(ctx) })
	}
}

// see is told of every frame, in the loop's goroutine.
func (s *served) see(site *snap.Site) {
	if s.follow != nil {
		s.follow.see(&site.Device)
	}
	s.made(site.Card.Made())
}

// shut closes the surfaces: nobody gets in any more.
func (s *served) shut() {
	if s.sshd != nil {
		s.sshd.Close()
	}
	s.fronts.close()
	if s.console != nil {
		s.console.Close()
	}
	if s.notify != nil {
		s.notify.close()
	}
	s.times.close()
}

// close ends what is left once nothing runs.
func (s *served) close() {
	if s.follow != nil && s.follow.port != nil {
		s.follow.port.Close()
	}
	if s.posts != nil {
		s.posts.syslog.Close()
	}
}
