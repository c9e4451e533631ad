package menu

import (
	"fmt"
	"strings"

	"github.com/agext/levenshtein"
)

// word is one word of the main prompt.
type word struct {
	name, brief, detail string
	reads               bool // only reads: may be given on an SSH command line
}

var words = []word{
	{"status", "what feeds the load, battery, runtime, alarms", "A few lines: enough to say over the telephone how the unit does.", true},
	{"measurements", "every measured value with its unit", "The values are those of the unit's own instruments, rounded as SNMP shows them.", true},
	{"alarms", "alarms that are present now", "An alarm stays listed until its cause has gone. Nothing here acknowledges it.", true},
	{"journal", "what the card noted, newest last", "journal shows the last 20 entries, journal 50 the last 50, journal all everything kept.\nThe dates are those of the card's clock.", true},
	{"identity", "serial number, versions, hardware address", "Use the hardware address to ask for an address reservation.", true},
	{"address", "network address: by DHCP or fixed", "Shows the present address, then asks for the new setting step by step.", false},
	{"name", "name of the card", "The name appears in SNMP (sysName) and helps to tell cards apart.", false},
	{"location", "where the unit stands", "Site, room and rack, in that order, help whoever has to find it (sysLocation).", false},
	{"contact", "who looks after the unit", "A function or a desk outlives a person's name (sysContact).", false},
	{"unit", "name of the UPS and of what it feeds", "Asks for the unit's name (upsIdentName) and its attached devices (upsIdentAttachedDevices).", false},
	{"communities", "SNMP read and write community", "An empty community switches that access off. Leave the write community empty\nunless something has to write.", false},
	{"changes", "what you edited and did not save", "Compares with what the card's memory holds.", false},
	{"undo", "forget what you edited", "Goes back to what the card's memory holds.", false},
	{"save", "write what you edited to the card's memory", "Network settings come into force with the next restart of the card.", false},
	{"restart", "restart the card, not the unit", "Nothing answers until the card is back. The output of the UPS is not touched.", false},
	{"leave", "sign out", "Always sign out: an open serial session is a way round every network rule.", false},
	{"help", "this list, or help WORD for one of them", "? does the same.", true},
}

// others are words that people try; they mean the word beside them.
var others = map[string]string{"?": "help", "exit": "leave", "quit": "leave", "logout": "leave"}

// shortest is the fewest letters by which a word may be abbreviated.
const shortest = 3

// find is the word that was typed: whole, or as an unmistakable beginning.
func find(typed string) (word, bool) {
	typed = strings.ToLower(typed)
	if meant, ok := others[typed]; ok {
		typed = meant
	}
	var hits []word
	for _, w := range words {
		if w.name == typed {
			return w, true
		}
		if len(typed) >= shortest && strings.HasPrefix(w.name, typed) {
			hits = append(hits, w)
		}
	}
	if len(hits) == 1 {
		return hits[0], true
	}
	return word{}, false
}

// nearest is the word that typed was probably meant to be, "" if none is near.
func nearest(typed string) string {
	best, name := 3, ""
	for _, w := range words {
		d := levenshtein.Distance(strings.ToLower(typed), w.name, nil)
		if d < best && d < len(w.name)-1 {
			best, name = d, w.name
		}
	}
	return name
}

func unknown(typed string) string {
	text := fmt.Sprintf("%q is not a word of this menu.", typed)
	if near := nearest(typed); near != "" {
		text += " Did you mean " + near + "?"
	}
	return text + " Type help for the list.\n"
}

func help(args []string) string {
	if len(args) > 0 {
		w, ok := find(args[0])
		if !ok {
			return unknown(args[0])
		}
		return fmt.Sprintf("%s: %s.\n%s\n", w.name, w.brief, w.detail)
	}
	var b strings.Builder
	for _, w := range words {
		fmt.Fprintf(&b, "  %-13s %s\n", w.name, w.brief)
	}
	b.WriteString("The first letters of a word are enough. ? at any question explains it, Ctrl-C gives it up.\n")
	return b.String()
}

func (s State) takeWord(v View, line string) (State, Output) {
	parts := strings.Fields(line)
	if len(parts) == 0 {
		return s.again(v, "")
	}
	w, ok := find(parts[0])
	if !ok {
		return s.again(v, unknown(parts[0]))
	}
	if w.reads {
		return s.again(v, read(v, w.name, parts[1:]))
	}
	return s.do(v, w.name)
}

// do runs a word that edits or acts.
func (s State) do(v View, name string) (State, Output) {
	switch name {
	case "address":
		return s.openAddress(v)
	case "name":
		return s.openTexts(v, fieldName)
	case "location":
		return s.openTexts(v, fieldLocation)
	case "contact":
		return s.openTexts(v, fieldContact)
	case "unit":
		return s.openTexts(v, fieldUnit, fieldAttached)
	case "communities":
		return s.openTexts(v, fieldRead, fieldWrite)
	case "changes":
		return s.again(v, s.listChanges(v))
	case "undo":
		return s.undo(v)
	case "save":
		return s.save(v)
	case "restart":
		return s.restart(v)
	default:
		return s.leave(v)
	}
}

// read is the text of a word that only reads.
func read(v View, name string, args []string) string {
	switch name {
	case "status":
		return status(v)
	case "measurements":
		return measurements(v)
	case "alarms":
		return alarms(v)
	case "journal":
		return journal(v, args)
	case "identity":
		return identity(v)
	default:
		return help(args)
	}
}

// Once answers a single word that only reads, such as one given on an SSH
// command line. It reports false, with a reason as text, for any other.
func Once(v View, line string) (string, bool) {
	parts := strings.Fields(line)
	if len(parts) == 0 {
		return "Nothing to do.\n", false
	}
	w, ok := find(parts[0])
	switch {
	case !ok:
		return unknown(parts[0]), false
	case !w.reads:
		return fmt.Sprintf("%s needs a dialog: open a session without a command.\n", w.name), false
	}
	return read(v, w.name, parts[1:]), true
}
