package snap

import (
	"slices"
	"strings"

	"ridethrough/sim/internal/core/vtime"
)

// MaxRelays is how many relay outputs a card has: ours.
const MaxRelays = 4

// RelayTest is how long a test holds a relay in its position of alarm: long enough to
// walk to the other end of the wire with a meter.
const RelayTest = 10 * vtime.Second

// OpRelay is Group, Text: "test" the relay of that name, or its condition manual "on" or "off".
const OpRelay Op = "relay"

// RelayFunction is what a relay reports.
type RelayFunction uint8

// Functions.
const (
	RelayOnBattery RelayFunction = iota
	RelayLowBattery
	RelayInput
	RelayBypass
	RelayOverload
	RelayOutputOff
	RelayShutdown
	RelayFault
	RelayNoContact
	RelayProbe
	RelayContact
	RelayManual

	relayFunctions
)

var relayFunctionNames = []string{"on-battery", "low-battery", "input", "bypass", "overload", "output-off", "shutdown", "fault", "no-contact", "probe", "contact", "manual"}

// String is the word for f, which settings use.
func (f RelayFunction) String() string { return nameOf(relayFunctionNames, int(f)) }

// RelayFunctionWords are the words of all functions.
func RelayFunctionWords() []string { return slices.Clone(relayFunctionNames) }

// RelaySet is a set of functions, a bit for each.
type RelaySet uint16

// Has says whether f is in the set.
func (s RelaySet) Has(f RelayFunction) bool { return s&(1<<f) != 0 }

// String is the words of the set with commas, "none" for none.
func (s RelaySet) String() string {
	var words []string
	for f := range relayFunctions {
		if s.Has(f) {
			words = append(words, f.String())
		}
	}
	if words == nil {
		return "none"
	}
	return strings.Join(words, ",")
}

// RelaySetOf reads words with commas between them, or none. wrong is the first that
// is no function.
func RelaySetOf(text string) (s RelaySet, wrong string) {
	if strings.TrimSpace(text) == "none" {
		return 0, ""
	}
	for word := range strings.SplitSeq(text, ",") {
		word = strings.TrimSpace(word)
		i := slices.Index(relayFunctionNames, word)
		if i < 0 {
			return 0, word
		}
		s |= 1 << i
	}
	return s, ""
}

// RelaySense says when the coil of a relay has current.
type RelaySense string

// Senses.
const (
	// SenseAlarm: while it reports something. A card without supply reports nothing.
	SenseAlarm RelaySense = "on-alarm"
	// SenseRest: while it has nothing to report. A card that is dead or starts looks as
	// if it reported something.
	SenseRest RelaySense = "at-rest"
)

// RelaySetting is what the card was told of one relay output.
type RelaySetting struct {
	Name   string
	Output int // from 1
	When   RelaySet
	Sense  RelaySense
}

// Relays are the outputs as they are. It never changes once it is in a [Card].
type Relays [MaxRelays]Relay

// Relay is one of them.
type Relay struct {
	Name    string // as it is set; "": nothing uses it
	Closed  bool   // its coil has current: the contact that is open without is closed
	Alarm   bool   // it reports something
	Testing bool   // because somebody tests it
	Manual  bool   // its condition manual is on
	Since   vtime.Tick
	Turns   int // how often it moved since the simulation began
}

// Relay is the output of that number, from 1, as c drives it.
func (c *Card) Relay(output int) Relay {
	if c.Relays == nil || output < 1 || output > MaxRelays {
		return Relay{}
	}
	return c.Relays[output-1]
}
