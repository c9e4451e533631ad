package scenario

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// sink is what makes a server one that keeps what arrives.
func (b *builder) sink(t *serverTable, s *plan.Server) error {
	switch {
	case !t.Sink:
		return b.noSink(t)
	case s.Kind == plan.ServerNames:
		return b.src.at(t.at("sink"), "nothing arrives at a server of names", "kind mail, syslog or snmp")
	case !s.Address.IsValid():
		return b.src.at(t.at("sink"), "the sink "+t.Name+" has no address", "address")
	}
	s.Sink, s.Acks, s.DropsPct, s.Community = true, plan.Acks(t.Acks), t.DropsPct, or(t.Community, "")
	if err := b.sinkAlone(t, s); err != nil {
		return err
	}
	for _, key := range []string{"community", "user", "acknowledges"} {
		if t.has(key) && s.Kind != plan.ServerSNMP {
			return b.src.at(t.at(key), key+" is nothing that "+t.Kind+" knows", `kind = "snmp", or no such key`)
		}
	}
	if err := b.sinkUsers(t, s); err != nil {
		return err
	}
	return b.matches(t, s)
}

// noSink refuses keys that mean nothing without sink.
func (b *builder) noSink(t *serverTable) error {
	for _, key := range []string{"community", "user", "drops_pct", "acknowledges", "match"} {
		if t.has(key) {
			return b.src.at(t.at(key), key+" without sink", "sink = true, or no such key")
		}
	}
	return nil
}

// sinkAlone refuses two sinks at one place.
func (b *builder) sinkAlone(t *serverTable, s *plan.Server) error {
	for i := range b.plan.Servers {
		if o := &b.plan.Servers[i]; o.Sink && o.Kind == s.Kind && o.Address == s.Address && o.Port == s.Port {
			return b.src.at(t.node.key, "the sinks "+o.Name+" and "+s.Name+" have the same address and port", "an address or a port of its own for each")
		}
	}
	return nil
}

func (b *builder) sinkUsers(t *serverTable, s *plan.Server) error {
	for i := range t.Users {
		u := &t.Users[i]
		if slices.ContainsFunc(s.Users, func(o snap.User) bool { return o.Name == u.Name }) {
			return b.src.at(u.at("name"), fmt.Sprintf("there is another user %q", u.Name), "a name of its own for each")
		}
		user, err := b.user(&userTable{table: u.table, Name: u.Name, Auth: u.Auth, AuthPassword: u.AuthPassword, Priv: u.Priv, PrivPassword: u.PrivPassword})
		if err != nil {
			return err
		}
		s.Users = append(s.Users, user)
	}
	return nil
}

func (b *builder) matches(t *serverTable, s *plan.Server) error {
	taken := map[string]int{}
	for i := range t.Matches {
		m := &t.Matches[i]
		if err := b.newName(taken, m.at("name"), "the matches", m.Name); err != nil {
			return err
		}
		match := plan.Match{Name: m.Name, From: m.From, To: m.To, Subject: m.Subject, Text: m.Text, OID: m.OID}
		if match == (plan.Match{Name: m.Name}) {
			return b.src.at(m.at("name"), "everything matches "+m.Name, "from, to, subject, text or oid; count has all messages")
		}
		if _, ok := snap.ParseOID(m.OID); m.OID != "" && !ok {
			return b.src.at(m.at("oid"), fmt.Sprintf("%q is not an object identifier", short(m.OID)), `numbers with dots, such as "1.3.6.1.2.1.33"`)
		}
		s.Matches = append(s.Matches, match)
	}
	return nil
}

func (b *builder) sinkNames() (list []expect.SinkNames) {
	for i := range b.plan.Servers {
		s := &b.plan.Servers[i]
		if !s.Sink {
			continue
		}
		n := expect.SinkNames{Name: s.Name}
		for _, m := range s.Matches {
			n.Matches = append(n.Matches, m.Name)
		}
		list = append(list, n)
	}
	return list
}
