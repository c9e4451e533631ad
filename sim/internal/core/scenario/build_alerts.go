package scenario

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/plan"
	cardset "ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// alerts is whom the card tells of what. The receivers are there already.
func (b *builder) alerts(t *alertsTable) error {
	if t == nil {
		return b.fillReceivers(nil)
	}
	m := &t.Mail
	a := snap.FactoryAlerts().Clone()
	a.Confirm, a.Settle = t.Confirm, t.Settle
	a.Mail = snap.MailSettings{
		Server: m.Server, Port: uint16(m.Port), Security: snap.MailSecurity(m.Security), Trust: m.Trust,
		User: m.User, Password: snap.NewSecret(or(m.Password, "")), From: or(m.From, "ups@site.example"),
		LateAfter: m.Late, Expiry: m.Expiry, DigestEvery: m.Digest,
	}
	for i := range t.Recipients {
		r := &t.Recipients[i]
		classes, err := b.classes(&r.table, r.Classes)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(a.Recipients, func(o snap.Recipient) bool { return o.Name == r.Name }) || !alertName(r.Name) {
			return b.src.at(r.at("name"), fmt.Sprintf("%q cannot be the name of this recipient", short(r.Name)), "a name of its own, of lower-case letters and digits")
		}
		a.Recipients = append(a.Recipients, snap.Recipient{
			Name: r.Name, Address: r.Address, Classes: classes, Least: snap.Severity(r.Least), Recovery: r.Recovery, Mode: snap.MailMode(r.Mode),
		})
	}
	if err := b.collectors(t, a); err != nil {
		return err
	}
	if err := b.fillReceivers(a); err != nil {
		return err
	}
	if err := cardset.Check(&snap.Settings{Alerts: snap.FactoryAlerts()}, &snap.Settings{Alerts: a}); err != nil {
		return b.src.at(t.node.key, "the alerts do not hold: "+err.Error(), "settings as docs/settings.md has them under alerts")
	}
	return nil
}

func (b *builder) collectors(t *alertsTable, a *snap.AlertSettings) error {
	for i := range t.Syslog {
		l := &t.Syslog[i]
		classes, err := b.classes(&l.table, l.Classes)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(a.Syslog, func(o snap.SyslogServer) bool { return o.Name == l.Name }) || !alertName(l.Name) {
			return b.src.at(l.at("name"), fmt.Sprintf("%q cannot be the name of this collector", short(l.Name)), "a name of its own, of lower-case letters and digits")
		}
		a.Syslog = append(a.Syslog, snap.SyslogServer{
			Name: l.Name, Server: l.Server, Port: uint16(l.Port), Transport: snap.SyslogTransport(l.Transport), Format: snap.SyslogFormat(l.Format).Plain(), Trust: l.Trust,
			Facility: uint8(l.Facility), Classes: classes, Least: snap.Severity(l.Least),
		})
	}
	return nil
}

func alertName(name string) bool {
	return plainName(name) && !strings.Contains(name, "_") && len(name) <= 24
}

func (b *builder) classes(t *table, text string) (snap.AlertSet, error) {
	set, wrong := snap.AlertSetOf(text)
	if set == 0 {
		return 0, b.src.at(t.at("classes"), fmt.Sprintf("there is no class %q", short(wrong)), "all, or some of "+strings.Join(snap.AlertClassWords(), ", "))
	}
	return set, nil
}

// fillReceivers puts the scenario's receivers into the card's settings.
func (b *builder) fillReceivers(a *snap.AlertSettings) error {
	if a == nil && len(b.plan.Card.Receivers) > 0 {
		a = snap.FactoryAlerts().Clone()
	}
	for i, r := range b.plan.Card.Receivers {
		level := ""
		if r.Version == "v3" {
			level = r.Level.String()
		}
		a.Receivers = append(a.Receivers, snap.Receiver{
			Name: fmt.Sprintf("receiver-%d", i+1), To: r.To, Version: r.Version, Community: snap.NewSecret(r.Community),
			User: r.User, Level: level, AlertRule: r.AlertRule, Inform: r.Inform, Retries: uint8(r.Retries), Timeout: r.Timeout,
		})
	}
	b.plan.Card.Settings.Alerts = a
	return nil
}

// servers of the site.
func (b *builder) buildServers() error {
	b.servers = map[string]int{}
	for i := range b.file.Servers {
		t := &b.file.Servers[i]
		if err := b.newName(b.servers, t.at("name"), "the servers", t.Name); err != nil {
			return err
		}
		s, err := b.server(t)
		if err != nil {
			return err
		}
		b.plan.Servers = append(b.plan.Servers, s)
	}
	return nil
}

func (b *builder) server(t *serverTable) (plan.Server, error) {
	s := plan.Server{
		Name: t.Name, Kind: plan.ServerKind(t.Kind), DNSName: t.DNSName, Host: -1,
		Answer: plan.ServerAnswer(t.Answer), Takes: t.Takes, TLS: t.TLS, SignIn: t.SignIn, Unknown: slices.Clone(t.Unknown), Senders: slices.Clone(t.Senders), Greylists: t.Greylists,
		Port: uint16(or(t.Port, map[string]int64{"mail": 25, "syslog": 514, "names": 53, "snmp": 162}[t.Kind])),
	}
	s.Expires = expiry(t.CertificateDays)
	if t.Address != nil {
		s.Address = *t.Address
	}
	if t.Address == nil && t.DNSName == "" && t.Kind != "names" {
		return s, b.src.at(t.node.key, "nobody can find the server "+t.Name, "address or dns_name")
	}
	if t.Host != nil {
		i, ok := b.hosts[*t.Host]
		if !ok {
			return s, b.missing(t.at("host"), "host", *t.Host, b.hostNames())
		}
		s.Host = i
	}
	for i, name := range t.Groups {
		g, ok := b.groups[name]
		if !ok {
			return s, b.missing(t.node.kids["needs_groups"].items[i].off, "group", name, b.groupNames())
		}
		s.Groups = append(s.Groups, g)
	}
	return s, b.sink(t, &s)
}

// serverAction is what an entry makes of a server.
func (b *builder) serverAction(t *serverEntry) (plan.Action, error) {
	if t.Answer == nil && t.Takes == nil && t.TLS == nil && t.SignIn == nil && t.Drops == nil && t.Acks == nil && t.CertificateDays == nil {
		return plan.Action{}, b.src.at(t.node.off, "the server does not change", "answer, takes, tls, sign_in, drops_pct, acknowledges or certificate_days beside its name")
	}
	renew := (*vtime.Tick)(nil)
	if t.CertificateDays != nil {
		renew = new(expiry(t.CertificateDays))
	}
	i := slices.IndexFunc(b.plan.Servers, func(s plan.Server) bool { return s.Name == t.Name })
	if i < 0 {
		var names []string
		for _, s := range b.plan.Servers {
			names = append(names, s.Name)
		}
		return plan.Action{}, b.missing(t.at("name"), "server", t.Name, names)
	}
	if (t.Drops != nil || t.Acks != nil) && !b.plan.Servers[i].Sink {
		return plan.Action{}, b.src.at(t.node.off, "the server "+t.Name+" is no sink", "sink = true in its [[server]], or neither drops_pct nor acknowledges")
	}
	return plan.Action{Kind: plan.ActServer, Server: plan.ServerChange{
		Server: i, Answer: plan.ServerAnswer(or(t.Answer, "")), Takes: t.Takes, TLS: or(t.TLS, ""), SignIn: or(t.SignIn, ""),
		Drops: t.Drops, Acks: plan.Acks(or(t.Acks, "")), Renew: renew,
	}}, nil
}

// expiry is so many days; without a number never.
func expiry(days *float64) vtime.Tick {
	if days == nil {
		return vtime.Never
	}
	return vtime.Tick(math.Round(*days * float64(day)))
}

const day = 24 * vtime.Hour

func (b *builder) recipientNames() (names []string) {
	for _, r := range b.plan.Card.Settings.Alerting().Recipients {
		names = append(names, r.Name)
	}
	return names
}

func (b *builder) collectorNames() (names []string) {
	for _, l := range b.plan.Card.Settings.Alerting().Syslog {
		names = append(names, l.Name)
	}
	return names
}
