package login

import (
	"context"
	"errors"
	"fmt"
	"net/netip"
	"sync"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Config is what a desk for sign-ins needs.
type Config struct {
	Device func() *snap.Device
	// Endpoint is where a simulated server is; false: nowhere, it is silent.
	Endpoint func(netip.AddrPort) (string, bool)
	// Reaches says whether packets pass between the card and a server; nil: always.
	Reaches func(netip.Addr) bool
	// Now is the time by which silent servers are left out.
	Now func() vtime.Tick
	// Shown is told when the certificate of a server expires that was accepted; nil:
	// nobody wants to know.
	Shown func(of snap.ServerKey, expires time.Time)
	// Log is told why a server counts as silent. It is never told a secret.
	Log func(string)
}

// Desk asks who knows users. It is safe for concurrent use.
type Desk struct {
	c      Config
	mu     sync.Mutex
	silent snap.Silence
}

// New is a desk.
func New(c Config) *Desk { return &Desk{c: c} }

// question is one sign-in to be checked.
type question struct {
	card           *snap.Card
	rules          *snap.SignInRules
	by             snap.Actor
	user, password string
	shown          func(snap.ServerKey, time.Time)
}

// Verify asks whom the card's settings name, in order. It takes as long as silent
// servers are waited for, each in turn, but for those that are left out.
func (d *Desk) Verify(ctx context.Context, by snap.Actor, password string) snap.Verdict {
	card := &d.c.Device().Card
	q := &question{card: card, rules: card.Settings.SignInRules(), by: by, user: by.User, password: password, shown: d.c.Shown}
	if q.shown == nil {
		q.shown = func(snap.ServerKey, time.Time) {}
	}
	return q.rules.DecideSparing(func(a snap.Authority, spare bool) (answer snap.Answer, role snap.Role, spared bool) {
		if !a.Own() {
			return d.ask(ctx, q, q.servers(a), spare)
		}
		answer, role = card.Ask(q.user, password)
		return answer, role, false
	})
}

// server is one to be asked.
type server struct {
	kind, name, address, asSet string
	patience                   vtime.Tick // what it is waited for in all
	// ask puts the question to it. An error means that it is silent.
	ask func(ctx context.Context, to string) (snap.Answer, snap.Role, error)
}

// servers are those of one kind.
func (q *question) servers(a snap.Authority) (list []server) {
	if a == snap.RADIUS {
		for i := range q.rules.RADIUS {
			x := &q.rules.RADIUS[i]
			list = append(list, server{"RADIUS", x.Name, x.Address, x.AsSet(), x.Timeout * vtime.Tick(x.Tries),
				func(ctx context.Context, to string) (snap.Answer, snap.Role, error) { return q.askRADIUS(ctx, x, to) }})
		}
		return list
	}
	for i := range q.rules.LDAP {
		x := &q.rules.LDAP[i]
		list = append(list, server{"LDAP", x.Name, x.Address, x.AsSet(), x.Timeout,
			func(ctx context.Context, to string) (snap.Answer, snap.Role, error) { return q.askLDAP(ctx, x, to) }})
	}
	return list
}

// ask asks servers, one after the other while they are silent.
func (d *Desk) ask(ctx context.Context, q *question, servers []server, spare bool) (_ snap.Answer, _ snap.Role, spared bool) {
	for i := range servers {
		x := &servers[i]
		if spare && d.leftOut(x) {
			spared = true
			continue
		}
		answer, role, err := d.put(ctx, x)
		if err == nil {
			d.note(x, 0)
			return answer, role, spared
		}
		d.tell(x, err)
		if ctx.Err() != nil { // who asked has gone, which says nothing of the server
			break
		}
		d.note(x, q.rules.DeadTime)
	}
	return snap.AnswerSilent, snap.NoRole, spared
}

// put puts the question to one server, where it can be reached.
func (d *Desk) put(ctx context.Context, x *server) (snap.Answer, snap.Role, error) {
	at, err := netip.ParseAddrPort(x.address)
	if err != nil {
		return snap.AnswerSilent, snap.NoRole, err
	}
	to, ok := d.c.Endpoint(at)
	if !ok {
		return snap.AnswerSilent, snap.NoRole, errors.New("no endpoint is mapped to it")
	}
	if d.c.Reaches != nil && !d.c.Reaches(at.Addr()) {
		select { // as long as for any silence
		case <-ctx.Done():
		case <-time.After(x.patience.Duration()):
		}
		return snap.AnswerSilent, snap.NoRole, errors.New("no packets pass between it and the card")
	}
	return x.ask(ctx, to)
}

func (d *Desk) leftOut(x *server) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.silent.In(d.c.Device().Card.StartedAt).Holds(d.c.Now(), x.asSet)
}

// note leaves a server out for that long from now on.
func (d *Desk) note(x *server, dead vtime.Tick) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.c.Now()
	d.silent.In(d.c.Device().Card.StartedAt).Note(now, x.asSet, now+dead)
}

// tell says why a server counts as silent.
func (d *Desk) tell(x *server, err error) {
	d.c.Log(fmt.Sprintf("%s server %s: %v", x.kind, x.name, plain(err)))
}

// role is that which a server gives, or the one for users without.
func (q *question) role(r snap.Role) snap.Role {
	if r == snap.NoRole {
		return q.rules.Default.Role()
	}
	return r
}
