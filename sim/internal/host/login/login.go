package login

import (
	"context"
	"fmt"
	"net/netip"

	"ridethrough/sim/internal/core/snap"
)

// Config is what a desk for sign-ins needs.
type Config struct {
	Device func() *snap.Device
	// Endpoint is where a simulated server is; false: nowhere, it is silent.
	Endpoint func(netip.AddrPort) (string, bool)
	// Log is told why a server counts as silent. It is never told a secret.
	Log func(string)
}

// Desk asks who knows users. It is safe for concurrent use.
type Desk struct{ c Config }

// New is a desk.
func New(c Config) *Desk { return &Desk{c} }

// question is one sign-in to be checked.
type question struct {
	card           *snap.Card
	rules          *snap.SignInRules
	by             snap.Actor
	user, password string
}

// Verify asks whom the card's settings name, in order. It takes as long as silent
// servers are waited for, each in turn.
func (d *Desk) Verify(ctx context.Context, by snap.Actor, password string) snap.Verdict {
	card := &d.c.Device().Card
	q := &question{card: card, rules: card.Settings.SignInRules(), by: by, user: by.User, password: password}
	return q.rules.Decide(func(a snap.Authority) (snap.Answer, snap.Role) {
		switch a {
		case snap.RADIUS:
			return d.radius(ctx, q)
		case snap.LDAP:
			return d.ldap(ctx, q)
		}
		return card.Ask(q.user, password)
	})
}

// endpoint is where a server's address leads.
func (d *Desk) endpoint(address string) (string, error) {
	at, err := netip.ParseAddrPort(address)
	if err != nil {
		return "", err
	}
	to, ok := d.c.Endpoint(at)
	if !ok {
		return "", fmt.Errorf("no endpoint is mapped to it")
	}
	return to, nil
}

// silent says why a server counts as silent.
func (d *Desk) silent(kind, name string, err error) {
	d.c.Log(fmt.Sprintf("%s server %s: %v", kind, name, err))
}

// role is that which a server gives, or the one for users without.
func (q *question) role(r snap.Role) snap.Role {
	if r == snap.NoRole {
		return q.rules.Default.Role()
	}
	return r
}
