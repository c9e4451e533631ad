package setting

import (
	"cmp"
	"fmt"
	"net/netip"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// alertList is a list among the alert settings, which may not be there yet.
func alertList(l *List) *List {
	names, add, remove, cp := l.names, l.add, l.remove, l.copy
	l.AtOnce = true
	l.names = func(s *snap.Settings) []string { return names(alerting(s)) }
	l.add = func(s *snap.Settings, name string) error { own(s); return add(s, name) }
	l.remove = func(s *snap.Settings, i int) { own(s); remove(s, i) }
	l.copy = func(dst, src *snap.Settings) {
		if dst.Alerts == nil && src.Alerts == nil {
			return
		}
		own(dst)
		cp(dst, alerting(src))
	}
	for i := range l.Columns {
		l.Columns[i] = alert(l.Columns[i])
	}
	return l
}

// classes is a set of classes of events.
func classes(path string, at func(*snap.Settings, int) *snap.AlertSet) *Setting {
	words := strings.Join(snap.AlertClassWords(), ", ")
	return &Setting{
		Path: path, Label: "classes", Help: "What the events are about that go there.",
		Takes: "all, or words with commas between them: " + words,
		get:   func(s *snap.Settings, i int) string { return at(s, i).String() },
		set: func(s *snap.Settings, i int, v string) error {
			set, wrong := snap.AlertSetOf(strings.ToLower(v))
			if set == 0 {
				return fmt.Errorf("%q: expected all, or some of %s", wrong, words)
			}
			*at(s, i) = set
			return nil
		},
	}
}

func least(path string, at func(*snap.Settings, int) *snap.Severity) *Setting {
	return choice(path, "least severity", "Events that matter less do not go there.", snap.Severities(), at)
}

func recipients() *List {
	of := func(s *snap.Settings, i int) *snap.Recipient { return &s.Alerts.Recipients[i] }
	return alertList(list("alerts.recipients", "recipient", "Somebody who gets mail.", snap.MaxRecipients,
		func(s *snap.Settings) *[]snap.Recipient { return &s.Alerts.Recipients },
		func(r *snap.Recipient) *string { return &r.Name },
		func() snap.Recipient {
			return snap.Recipient{Classes: snap.EveryClass, Least: snap.Warning, Recovery: true, Mode: snap.MailEach}
		},
		text("address", "mail address", "Where it goes. A typing error here is found only by a test message that somebody reads.",
			mailLength, func(s *snap.Settings, i int) *string { return &of(s, i).Address }).fit(aMailbox),
		classes("classes", func(s *snap.Settings, i int) *snap.AlertSet { return &of(s, i).Classes }),
		least("least", func(s *snap.Settings, i int) *snap.Severity { return &of(s, i).Least }),
		yesNo("recovery", "recovery", "Mail too when it is over. Without that nobody learns that an alert can be closed.",
			func(s *snap.Settings, i int) *bool { return &of(s, i).Recovery }),
		choice("mode", "mode", "each: a mail for each event; digest: one at an interval, with the journal attached; both.",
			[]snap.MailMode{snap.MailEach, snap.MailDigest, snap.MailBoth}, func(s *snap.Settings, i int) *snap.MailMode { return &of(s, i).Mode }),
	))
}

func syslogServers() *List {
	of := func(s *snap.Settings, i int) *snap.SyslogServer { return &s.Alerts.Syslog[i] }
	return alertList(list("alerts.syslog", "syslog server", "A collector of syslog messages.", snap.MaxSyslog,
		func(s *snap.Settings) *[]snap.SyslogServer { return &s.Alerts.Syslog },
		func(l *snap.SyslogServer) *string { return &l.Name },
		func() snap.SyslogServer {
			return snap.SyslogServer{Port: 514, Transport: snap.SyslogUDP, Trust: "system", Facility: 16, Classes: snap.EveryClass, Least: snap.Info}
		},
		text("server", "server", "Name or address of the collector.", hostLength, func(s *snap.Settings, i int) *string { return &of(s, i).Server }).fit(aHost),
		whole[uint16]("port", "port", "514 over UDP (RFC 5426), 6514 over TLS (RFC 5425); over TCP as the collector has it.", "", 1, 65535,
			func(s *snap.Settings, i int) *uint16 { return &of(s, i).Port }),
		choice("transport", "transport", "udp: what is lost is lost; tcp: each message with its length (RFC 6587), tried again until it expires; tls: the same, protected.",
			[]snap.SyslogTransport{snap.SyslogUDP, snap.SyslogTCP, snap.SyslogTLS}, func(s *snap.Settings, i int) *snap.SyslogTransport { return &of(s, i).Transport }),
		syslogFormat(func(s *snap.Settings, i int) *snap.SyslogFormat { return &of(s, i).Format }),
		text("trust", "trusted certificate", "For tls, as that of the mail relay.", trustLength, func(s *snap.Settings, i int) *string { return &of(s, i).Trust }).fit(aTrust),
		whole[uint8]("facility", "facility", "Facility of RFC 5424: 16 to 23 are for local use.", "", 0, 23, func(s *snap.Settings, i int) *uint8 { return &of(s, i).Facility }),
		classes("classes", func(s *snap.Settings, i int) *snap.AlertSet { return &of(s, i).Classes }),
		least("least", func(s *snap.Settings, i int) *snap.Severity { return &of(s, i).Least }),
	))
}

// syslogFormat shows the newer form where the settings have nothing, as they had before
// there was a choice.
func syslogFormat(at func(*snap.Settings, int) *snap.SyslogFormat) *Setting {
	x := choice("format", "format", "rfc5424: with year, zone and structured data; rfc3164: the older form without them, for a collector that knows no other.",
		[]snap.SyslogFormat{snap.Syslog5424, snap.Syslog3164}, at)
	set := x.set
	x.get = func(s *snap.Settings, i int) string { return string(cmp.Or(*at(s, i), snap.Syslog5424)) }
	x.set = func(s *snap.Settings, i int, v string) error {
		err := set(s, i, v)
		*at(s, i) = at(s, i).Plain()
		return err
	}
	return x
}

func snmpReceivers() *List {
	of := func(s *snap.Settings, i int) *snap.Receiver { return &s.Alerts.Receivers[i] }
	return alertList(list("alerts.receivers", "receiver", "Where SNMP notifications go.", snap.MaxReceivers,
		func(s *snap.Settings) *[]snap.Receiver { return &s.Alerts.Receivers },
		func(r *snap.Receiver) *string { return &r.Name },
		func() snap.Receiver { return snap.Receiver{Version: "v2c", Retries: 3, Timeout: 2 * vtime.Second} },
		receiverAddress(func(s *snap.Settings, i int) *netip.AddrPort { return &of(s, i).To }),
		receiverSource(func(s *snap.Settings, i int) *netip.Addr { return &of(s, i).Source }),
		choice("version", "version", "SNMP version of the notifications.", []string{"v1", "v2c", "v3"}, func(s *snap.Settings, i int) *string { return &of(s, i).Version }),
		secret("community", "community", "Of v1 and v2c: community that they carry.", 1, community, func(s *snap.Settings, i int) *snap.Secret { return &of(s, i).Community }),
		text("user", "user", "Of v3: user under whose name they are sent.", 32, func(s *snap.Settings, i int) *string { return &of(s, i).User }),
		text("level", "security level", "Of v3: noAuthNoPriv, authNoPriv or authPriv; empty: the least that the user allows.", 12,
			func(s *snap.Settings, i int) *string { return &of(s, i).Level }).fit(aLevel),
		receiverClasses(of),
		receiverLeast(of),
		yesNo("inform", "inform", "Informs are acknowledged, and repeated if they are not. Not in v1.", func(s *snap.Settings, i int) *bool { return &of(s, i).Inform }),
		whole[uint8]("retries", "retries", "How often an inform without an acknowledgement is repeated.", "", 0, 10, func(s *snap.Settings, i int) *uint8 { return &of(s, i).Retries }),
		spanMS("timeout", "timeout", "Until an inform is repeated the first time; twice as long before each further time. Real time, whatever the pace.",
			10, vtime.Minute, func(s *snap.Settings, i int) *vtime.Tick { return &of(s, i).Timeout }),
	))
}

// receiverClasses and receiverLeast are the rule of a receiver, written out; the settings
// keep the zero rule for what leaves nothing out, which they had before there were rules.
func receiverClasses(of func(*snap.Settings, int) *snap.Receiver) *Setting {
	x := classes("classes", func(s *snap.Settings, i int) *snap.AlertSet { return &of(s, i).Classes })
	set := x.set
	x.get = func(s *snap.Settings, i int) string { return of(s, i).Full().Classes.String() }
	x.set = func(s *snap.Settings, i int, v string) error {
		err := set(s, i, v)
		of(s, i).AlertRule = of(s, i).Plain()
		return err
	}
	return x
}

func receiverLeast(of func(*snap.Settings, int) *snap.Receiver) *Setting {
	x := least("least", nil)
	x.get = func(s *snap.Settings, i int) string { return of(s, i).Full().Least.String() }
	x.set = func(s *snap.Settings, i int, v string) error {
		word := strings.ToLower(v)
		if !slices.Contains(x.Words, word) {
			return fmt.Errorf("%q: expected one of %s", v, strings.Join(x.Words, ", "))
		}
		r := of(s, i)
		r.Least = snap.Severity(word).Rank()
		r.AlertRule = r.Plain()
		return nil
	}
	return x
}

func aLevel(v string) error {
	if _, ok := snap.LevelByName(v); ok || v == "" {
		return nil
	}
	return fmt.Errorf("%q: expected noAuthNoPriv, authNoPriv or authPriv, or nothing", v)
}

// IsReceiver says whether something can be sent there.
func IsReceiver(a netip.AddrPort) bool {
	return a.IsValid() && a.Port() != 0 && !a.Addr().IsUnspecified() && !a.Addr().IsMulticast()
}

func receiverAddress(at func(*snap.Settings, int) *netip.AddrPort) *Setting {
	const takes = "an address and port such as 198.51.100.20:162"
	return &Setting{
		Path: "to", Label: "address and port", Help: "Where they go. The usual port is 162.", Takes: takes,
		get: func(s *snap.Settings, i int) string {
			if a := *at(s, i); a.IsValid() {
				return a.String()
			}
			return "none"
		},
		set: func(s *snap.Settings, i int, v string) error {
			if strings.ToLower(v) == "none" {
				*at(s, i) = netip.AddrPort{}
				return nil
			}
			a, err := netip.ParseAddrPort(v)
			if err != nil || !IsReceiver(a) {
				return fmt.Errorf("%q: expected %s", v, takes)
			}
			*at(s, i) = a
			return nil
		},
	}
}
