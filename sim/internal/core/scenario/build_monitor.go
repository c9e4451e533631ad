package scenario

import (
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
	m := &plan.Monitor{
		Peer: peer, Client: client(t.Version, t.Read, nil), Poll: t.PollEvery, Timeout: t.Timeout, Retries: int(t.Retries),
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
func client(version string, read, write *string) plan.Client {
	hidden := func(text *string) *snap.Secret {
		if text == nil {
			return nil
		}
		secret := snap.NewSecret(*text)
		return &secret
	}
	return plan.Client{Version: version, Read: hidden(read), Write: hidden(write)}
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
