package menu

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

func init() {
	register(
		word{name: "relays", brief: "relay outputs: position, what they report, and when they moved last", part: partSurroundings,
			detail: "add surroundings.relay NAME sets one. Who is wired to it sees the position of its contact and nothing\nelse: after every change of what it reports, relay test NAME with the other end of the wire in view.",
			read:   plain(relays), data: relaysData},
		word{name: "relay", brief: "test a relay output, or switch its condition manual", part: partSurroundings, needs: snap.Operator,
			detail: "relay test NAME holds it in its position of alarm for 10 s. relay on NAME and relay off NAME switch the\ncondition manual of a relay that reports it; a restart of the card switches it off.",
			acts:   []verb{{"test", relayOrder("test")}, {"on", relayOrder("on")}, {"off", relayOrder("off")}}},
	)
}

func relays(v View) string {
	list := v.Dev.Card.Settings.Relays
	if len(list) == 0 {
		return "No relay output is set: add surroundings.relay NAME sets one.\n"
	}
	rows := [][]string{{"RELAY", "OUTPUT", "CONTACT", "STATE", "REPORTS", "CURRENT", "MOVED"}}
	for i := range list {
		r, is := &list[i], v.Dev.Card.Relay(list[i].Output)
		rows = append(rows, []string{r.Name, fmt.Sprint(r.Output), position(is), relayState(is), r.When.String(), string(r.Sense), moved(v, is)})
	}
	return table(rows)
}

func position(r snap.Relay) string {
	if r.Closed {
		return "closed"
	}
	return "open"
}

func relayState(r snap.Relay) string {
	switch {
	case r.Testing:
		return "tested"
	case r.Alarm:
		return "alarm"
	}
	return "rest"
}

func moved(v View, r snap.Relay) string {
	if r.Turns == 0 {
		return "never"
	}
	return date(v.Dev, r.Since)
}

type relayReading struct {
	Relay   string `json:"relay"`
	Output  int    `json:"output"`
	Contact string `json:"contact"` // open or closed
	State   string `json:"state"`   // rest, alarm or tested
	Reports string `json:"reports"`
	Current string `json:"current"`
	Moved   string `json:"moved,omitempty"` // absent: never
	Turns   int    `json:"turns"`
}

func relaysData(v View, _ []string) any {
	list := []relayReading{}
	for i := range v.Dev.Card.Settings.Relays {
		r := &v.Dev.Card.Settings.Relays[i]
		is := v.Dev.Card.Relay(r.Output)
		x := relayReading{r.Name, r.Output, position(is), relayState(is), r.When.String(), string(r.Sense), "", is.Turns}
		if is.Turns > 0 {
			x.Moved = date(v.Dev, is.Since)
		}
		list = append(list, x)
	}
	return map[string]any{"relays": list}
}

func relayOrder(order string) *action {
	return &action{
		ask: []question{{label: "relay", help: "The name of a relay output: relays lists them.", check: knownRelay}},
		caution: func(v View, given []string) string {
			if order == "off" {
				return ""
			}
			return fmt.Sprintf("CAUTION\nWhat is wired to relay %s takes it for an alarm: machines may stop. Ask whoever is at the other end first.\n", given[0])
		},
		confirm: map[string]string{"test": "test", "on": "on", "off": ""}[order],
		command: func(_ View, given []string) snap.Command {
			return snap.Command{Op: snap.OpRelay, Group: given[0], Text: order}
		},
		done: func(_ View, given []string) string {
			return map[string]string{
				"test": fmt.Sprintf("Relay %s is in its position of alarm for %d s. Look at the other end.\n", given[0], int(snap.RelayTest.Seconds())),
				"on":   "The condition manual is on.\n", "off": "The condition manual is off.\n",
			}[order]
		},
	}
}

func knownRelay(v View, _ []string, answer string) (string, error) {
	var names []string
	for i := range v.Dev.Card.Settings.Relays {
		name := v.Dev.Card.Settings.Relays[i].Name
		if strings.EqualFold(name, answer) {
			return name, nil
		}
		names = append(names, name)
	}
	if names == nil {
		return "", fmt.Errorf("no relay output is set: add surroundings.relay NAME sets one")
	}
	return "", fmt.Errorf("there is no relay %q: %s", answer, strings.Join(names, ", "))
}
