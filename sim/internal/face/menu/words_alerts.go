package menu

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func init() {
	register(
		word{name: "rules", brief: "who is told of what, and how each way does", part: partAlerts,
			detail: "For each recipient, collector and receiver: what goes there. edit alerts, add\nalerts.recipients NAME and so on change it. rules events lists every event with\nits class and severity.",
			check:  rulesOf,
			read:   rules, data: rulesData},
		word{name: "messages", brief: "mails and syslog messages that wait, and the last results", part: partAlerts,
			detail: "delivered: the relay has taken it, which does not mean that somebody has read it.\nsent: it left as a datagram, and nobody will say whether it arrived.",
			read:   plain(messages), data: messagesData},
		word{name: "try", brief: "send a test message: try NAME, or try all", part: partAlerts,
			detail: "It goes to that recipient, collector or receiver whatever the rules say: as mail,\nas a syslog message, as the notification rtTestMessage. Then ask whoever reads it:\nsent is not received.",
			act:    &action{ask: []question{tryWhom}, command: tryCommand, done: tryDone}},
	)
}

// rulesOf is why there are no rules of args.
func rulesOf(_ View, args []string) error {
	if len(args) > 0 && !strings.HasPrefix("events", strings.ToLower(args[0])) {
		return fmt.Errorf("rules takes events, or nothing; not %q", args[0])
	}
	return nil
}

func rules(v View, args []string) string {
	if len(args) > 0 {
		return events()
	}
	a := v.Dev.Card.Settings.Alerting()
	var b strings.Builder
	if a.Mail.Server == "" {
		b.WriteString("  No mail relay is set: nobody gets mail.\n")
	} else {
		b.WriteString(row("Mail relay", fmt.Sprintf("%s, port %d, %s", a.Mail.Server, a.Mail.Port, a.Mail.Security)))
	}
	if a.RiseAfter > 0 {
		b.WriteString(row("Rising", fmt.Sprintf("a warning (%s) that lasts for %s is critical", rising(a), span(a.RiseAfter))))
	}
	for _, r := range a.Recipients {
		b.WriteString(row(r.Name, fmt.Sprintf("mail to %s: %s from %s on, %s%s", r.Address, r.Classes, r.Least, r.Mode, recovery(r.Recovery))))
	}
	for _, l := range a.Syslog {
		b.WriteString(row(l.Name, fmt.Sprintf("syslog to %s, port %d over %s: %s from %s on", l.Server, l.Port, l.Transport, l.Classes, l.Least)))
	}
	for _, r := range a.Receivers {
		kind := "traps"
		if r.Inform {
			kind = "informs"
		}
		rule := r.Full()
		b.WriteString(row(r.Name, fmt.Sprintf("SNMP %s, %s to %s: %s from %s on", r.Version, kind, r.To, rule.Classes, rule.Least)))
	}
	return b.String()
}

func rising(a *snap.AlertSettings) snap.AlertSet {
	if a.RiseClasses == 0 {
		return snap.EveryClass
	}
	return a.RiseClasses
}

func recovery(on bool) string { return snap.Either(on, "", ", no recovery") }

type ruleData struct {
	Name     string   `json:"name"`
	Way      string   `json:"way"` // mail, syslog or snmp
	To       string   `json:"to"`
	Classes  []string `json:"classes,omitempty"`
	Least    string   `json:"least,omitempty"`
	Recovery bool     `json:"recovery"`
}

func rulesData(v View, _ []string) any {
	a, list := v.Dev.Card.Settings.Alerting(), []ruleData{}
	for _, r := range a.Recipients {
		list = append(list, ruleData{r.Name, "mail", r.Address, classWords(r.Classes), string(r.Least), r.Recovery})
	}
	for _, l := range a.Syslog {
		list = append(list, ruleData{l.Name, "syslog", fmt.Sprintf("%s:%d", l.Server, l.Port), classWords(l.Classes), string(l.Least), true})
	}
	for _, r := range a.Receivers {
		rule := r.Full()
		list = append(list, ruleData{r.Name, "snmp", r.To.String(), classWords(rule.Classes), rule.Least.String(), true})
	}
	return list
}

func classWords(s snap.AlertSet) (list []string) {
	for c := range snap.AlertClasses {
		if s.Has(c) {
			list = append(list, c.String())
		}
	}
	return list
}

// events is the table of events.
func events() string {
	var b strings.Builder
	for e := snap.AlertEvent(1); e < snap.AlertEvents; e++ {
		k := e.Alert()
		fmt.Fprintf(&b, "  %-24s %-13s %s\n", k.Name, k.Class, k.Severity)
	}
	return b.String()
}

func messages(v View) string {
	o := v.Dev.Card.Posts
	if o == nil {
		return "  There were no messages yet.\n"
	}
	var b strings.Builder
	for _, p := range slices.Concat(o.Done, o.Waiting) {
		fmt.Fprintf(&b, "  %5d  %s  %-6s to %-12s %-22s %s", p.ID, date(v.Dev, p.Made), p.Kind, p.To, p.Event, p.State)
		if p.State == "waiting" && p.Tries > 0 {
			fmt.Fprintf(&b, " after %d tries", p.Tries)
			if p.At != vtime.Never && p.At > v.Now {
				fmt.Fprintf(&b, ", again in %s", span(p.At-v.Now))
			}
		}
		if p.Text != "" {
			b.WriteString(": " + printable(p.Text)) // the reason may be a server's
		}
		b.WriteString("\n")
	}
	return b.String()
}

type messageData struct {
	ID     uint32 `json:"id"`
	Kind   string `json:"kind"`
	To     string `json:"to"`
	Event  string `json:"event"`
	Made   string `json:"made"` // by the card's clock
	Tries  int    `json:"tries"`
	State  string `json:"state"`
	Reason string `json:"reason,omitempty"`
}

func messagesData(v View, _ []string) any {
	list := []messageData{}
	if o := v.Dev.Card.Posts; o != nil {
		for _, p := range slices.Concat(o.Done, o.Waiting) {
			list = append(list, messageData{p.ID, p.Kind.String(), p.To, p.Event.String(), date(v.Dev, p.Made), p.Tries, p.State, printable(p.Text)})
		}
	}
	return list
}

var tryWhom = question{label: "recipient, collector or receiver", help: "A name from rules, or all.", kept: "all",
	check: func(v View, _ []string, answer string) (string, error) {
		a := v.Dev.Card.Settings.Alerting()
		names := []string{"all"}
		for _, r := range a.Recipients {
			names = append(names, r.Name)
		}
		for _, l := range a.Syslog {
			names = append(names, l.Name)
		}
		for _, r := range a.Receivers {
			names = append(names, r.Name)
		}
		if name := strings.ToLower(answer); slices.Contains(names, name) {
			return name, nil
		}
		return "", fmt.Errorf("%q is nobody that the rules know: expected one of %s", answer, strings.Join(names, ", "))
	},
}

func tryCommand(_ View, given []string) snap.Command {
	if given[0] == "all" {
		return snap.Command{Op: snap.OpTry}
	}
	return snap.Command{Op: snap.OpTry, Text: given[0]}
}

func tryDone(View, []string) string {
	return "A test message is on its way. messages tells what becomes of mail and syslog,\njournal of an inform; of a trap nobody does. Ask whoever should read it.\n"
}
