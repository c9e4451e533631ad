package menu

import (
	"errors"
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

func init() {
	register(
		word{name: "status", brief: "what feeds the load, battery, runtime, alarms", part: partReading,
			detail: "A few lines: enough to say over the telephone how the unit does.",
			read:   plain(status), data: statusData},
		word{name: "measurements", brief: "every measured value with its unit", part: partReading,
			detail: "The values are those of the unit's own instruments, rounded as SNMP shows them.",
			read:   plain(measurements), data: measurementsData},
		word{name: "alarms", brief: "alarms that are present now", part: partReading,
			detail: "An alarm stays listed until its cause has gone. Nothing here acknowledges it.",
			read:   plain(alarms), data: alarmsData},
		word{name: "identity", brief: "serial number, versions, hardware address", part: partReading,
			detail: "Use the hardware address to ask for an address reservation.",
			read:   plain(identity), data: identityData},
		word{name: "show", brief: "settings as they are saved, or one of the words above", part: partReading,
			detail: "show reach shows a group, show reach.gateway one setting, show alone all of them.\nshow status is the same as status. A secret is never shown.",
			check:  shows,
			read:   show, data: showData},
		word{name: "help", brief: "this list, or help WORD for one of them", part: partReading,
			detail: "? does the same. help reach explains the settings of a group.", check: helps, read: help},

		guided("name", "name of the card", "The name appears in SNMP (sysName) and helps to tell cards apart.", partIdentity, "identity.name"),
		guided("location", "where the unit stands", "Site, room and rack, in that order, help whoever has to find it (sysLocation).", partIdentity, "identity.location"),
		guided("contact", "who looks after the unit", "A function or a desk outlives a person's name (sysContact).", partIdentity, "identity.contact"),
		guided("unit", "name of the UPS and of what it feeds", "Asks for the unit's name (upsIdentName) and its attached devices (upsIdentAttachedDevices).", partIdentity, "identity.unit", "identity.attached"),
		word{name: "address", brief: "network address: by DHCP or fixed", part: partReach,
			detail: "Shows the present address, then asks for the new setting step by step.",
			do:     func(s State, v View, _ []string, _ string) (State, Output) { return s.openAddress(v) }},
		guided("communities", "SNMP read and write community", "An empty community switches that access off. Leave the write community empty\nunless something has to write.", partAccess, "access.read-community", "access.write-community"),

		word{name: "edit", brief: "step through the settings of a group, a list or a path", part: partEditing,
			detail: "edit reach asks for each setting of the group, edit reach.gateway for one.",
			do:     func(s State, v View, args []string, _ string) (State, Output) { return s.edit(v, args) }},
		word{name: "set", brief: "edit one setting in one line", part: partEditing,
			detail: "set identity.name desk-ups, set identity.contact - to empty it. help identity lists the paths.",
			do:     func(s State, v View, _ []string, rest string) (State, Output) { return s.set(v, rest) }},
		word{name: "add", brief: "add an entry to a list", part: partEditing,
			detail: "add, the list and a name for the entry; on a command line its settings behind them:\nadd alerts.recipients desk address=desk@example.org. help GROUP tells which lists there are.",
			do:     func(s State, v View, args []string, _ string) (State, Output) { return s.add(v, args) }},
		word{name: "remove", brief: "take an entry out of a list", part: partEditing,
			detail: "remove, the list and the name of the entry.",
			do:     func(s State, v View, args []string, _ string) (State, Output) { return s.remove(v, args) }},
		word{name: "changes", brief: "what you edited and did not save", part: partEditing, needs: snap.Viewer,
			detail: "Compares with what the card's memory holds.",
			do:     func(s State, v View, _ []string, _ string) (State, Output) { return s.again(v, s.listChanges(v)) }},
		word{name: "undo", brief: "forget what you edited", part: partEditing,
			detail: "Goes back to what the card's memory holds.",
			do:     func(s State, v View, _ []string, _ string) (State, Output) { return s.undo(v) }},
		word{name: "save", brief: "write what you edited to the card's memory", part: partEditing,
			detail: "What concerns the network comes into force with the next restart of the card,\nthe rest at once.",
			do:     func(s State, v View, _ []string, _ string) (State, Output) { return s.save(v) }},
		word{name: "leave", brief: "sign out", part: partEditing, needs: snap.Viewer,
			detail: "Always sign out: an open serial session is a way round every network rule.",
			do:     func(s State, v View, _ []string, _ string) (State, Output) { return s.leave(v) }},
		word{name: "restart", brief: "restart the card, not the unit", part: partUpkeep,
			detail: "Nothing answers until the card is back. The output of the UPS is not touched.",
			do:     func(s State, v View, _ []string, _ string) (State, Output) { return s.restart(v) }},
	)
}

// plain is a reading that takes no arguments.
func plain(f func(View) string) func(View, []string) string {
	return func(v View, _ []string) string { return f(v) }
}

// guided is a word that asks for some settings.
func guided(name, brief, detail string, p part, paths ...string) word {
	return word{name: name, brief: brief, detail: detail, part: p,
		do: func(s State, v View, _ []string, _ string) (State, Output) {
			return s.guide(v, "Enter keeps what is in brackets, - empties it.\n", paths...)
		}}
}

// show is a group of settings or one, or the reading of that name.
func show(v View, args []string) string {
	saved := &v.Dev.Card.Saved
	if len(args) == 0 {
		var b strings.Builder
		for _, g := range setting.Groups() {
			if text, ok := showSettings(saved, g.String()); ok {
				fmt.Fprintf(&b, "%s: %s\n%s", g, g.Brief(), text)
			}
		}
		return b.String()
	}
	if w, ok := find(args[0]); ok && w.read != nil && w.name != "show" {
		text := w.read(v, args[1:])
		if more, ok := showSettings(saved, w.name); ok {
			text += more
		}
		return text
	}
	if text, ok := showSettings(saved, strings.ToLower(args[0])); ok {
		return text
	}
	return State{}.nothingAt(v, strings.ToLower(args[0]))
}

// shows is why there is nothing to show of args. A list without entries shows none.
func shows(v View, args []string) error {
	if len(args) == 0 {
		return nil
	}
	word := strings.ToLower(args[0])
	_, isGroup := setting.GroupByName(word)
	_, err := setting.FindList(word)
	_, any := showSettings(&v.Dev.Card.Saved, word)
	switch {
	case len(args) > 1:
		return fmt.Errorf("show takes one group, list or path; %q is more than that", args[1])
	case !isGroup && err != nil && !any:
		return errors.New(strings.TrimRight(State{}.nothingAt(v, word), ".\n"))
	}
	return nil
}
