package scenario

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

func (b *builder) monitor() error {
	t := b.file.Monitor
	if t == nil {
		return nil
	}
	peer, err := b.peerOf(&t.table, t.Peer)
	if err != nil {
		return err
	}
	speaks, err := b.client(&t.table, t.Version, t.Read, nil, t.As)
	if err != nil {
		return err
	}
	m := &plan.Monitor{
		Peer: peer, Client: speaks, Poll: t.PollEvery, Timeout: t.Timeout, Retries: int(t.Retries),
		Objects: int(t.Objects), AtOnce: int(t.PerRequest), LostAfter: int(t.LostAfter), LowCharge: t.LowChargePct,
		SilenceIsFine: t.Believe.Silence == "fine", GapsAreZero: t.Believe.Gaps == "zero",
		AwaitClear: t.Believe.AllClear == "notification", InTurn: t.Believe.Cycle == "in-turn",
		FallIsRestart: t.Believe.UpTime == "falls", FallIsWrap: t.Believe.Counters == "wrap",
		NoDiscovery: t.Believe.Resync == "never", ByEngineID: t.Believe.Engines == "by-id",
		Ticket: map[string]plan.TicketRule{"by-condition": plan.TicketByCondition, "by-row": plan.TicketByRow, "once": plan.TicketOnce}[t.Believe.Tickets],
		Quiet:  t.Quiet,
	}
	if n := t.Neighbour; n != nil {
		m.Neighbour, m.NeighbourBoots, m.NeighbourUp = true, uint32(n.Boots), n.UpFor
	}
	for i, name := range t.TicketsFor {
		k, err := b.alarmNamed(t.node.kids["tickets_for"].items[i].off, name)
		if err != nil {
			return err
		}
		m.Tickets = append(m.Tickets, k)
	}
	b.plan.Monitor = m
	return nil
}

// client speaks with the card; without a community with the one that the card begins with.
func (b *builder) client(t *table, version string, read, write *string, as *asTable) (c plan.Client, err error) {
	hidden := func(text *string) *snap.Secret {
		if text == nil {
			return nil
		}
		secret := snap.NewSecret(*text)
		return &secret
	}
	c = plan.Client{Version: version, Read: hidden(read), Write: hidden(write)}
	switch {
	case as == nil:
		return c, nil
	case version != "v3":
		return c, b.src.at(t.at("as"), "a user of SNMPv3 with version "+version, `version = "v3"`)
	}
	c.As, err = b.claimant(as)
	return c, err
}

// claimant is who a manager says that it is. What it does not say is as the card has it.
func (b *builder) claimant(t *asTable) (*snap.User, error) {
	u := snap.User{Name: t.User}
	if known := b.plan.Card.Access.User([]byte(t.User)); known != nil {
		u = *known
		u.Views = snap.Views{}
	}
	for _, one := range []struct {
		key *string
		to  *snap.Secret
	}{{t.Auth, &u.AuthPassword}, {t.Priv, &u.PrivPassword}} {
		if one.key != nil {
			*one.to = snap.NewSecret(*one.key)
		}
	}
	switch u.Level = snap.AuthPriv; {
	case u.AuthPassword.Empty():
		u.Level = snap.NoAuthNoPriv
	case u.PrivPassword.Empty():
		u.Level = snap.AuthNoPriv
	}
	if t.Level == nil {
		return &u, nil
	}
	level, _ := snap.LevelByName(*t.Level)
	if level > u.Level {
		return nil, b.src.at(t.at("level"), fmt.Sprintf("there is no password for %v", level), "auth_password, for authPriv priv_password too, or at most "+u.Level.String())
	}
	u.Level = level
	return &u, nil
}

// peerOf is the machine that key peer of t names, -1 without it.
func (b *builder) peerOf(t *table, name *string) (int, error) {
	if name == nil {
		return -1, nil
	}
	i := slices.Index(b.peerNames(), *name)
	if i < 0 {
		return i, b.missing(t.at("peer"), "peer", *name, b.peerNames())
	}
	return i, nil
}
