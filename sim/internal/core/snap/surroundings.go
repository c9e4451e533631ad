package snap

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"

	"ridethrough/sim/internal/core/vtime"
)

// Limit is a bound of a reading; an infinite one is none. In JSON that is null.
type Limit float64

// NoLimit is none.
func NoLimit() Limit { return Limit(math.Inf(1)) }

// Set says whether there is a limit.
func (l Limit) Set() bool { return !math.IsInf(float64(l), 0) }

// MarshalJSON writes a number, or null for none.
func (l Limit) MarshalJSON() ([]byte, error) {
	if !l.Set() {
		return []byte("null"), nil
	}
	return json.Marshal(float64(l))
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (l *Limit) UnmarshalJSON(text []byte) error {
	if bytes.Equal(text, []byte("null")) {
		*l = NoLimit()
		return nil
	}
	return json.Unmarshal(text, (*float64)(l))
}

// Limits bound one quantity. Hysteresis is how far back inside a limit the reading
// must come to leave it.
type Limits struct {
	LowCritical, LowWarn, HighWarn, HighCritical Limit
	Hysteresis                                   float64
}

// NoLimits are none, with that hysteresis for those that will be set.
func NoLimits(hysteresis float64) Limits {
	return Limits{LowCritical: NoLimit(), LowWarn: NoLimit(), HighWarn: NoLimit(), HighCritical: NoLimit(), Hysteresis: hysteresis}
}

// ProbeSetting is what the card was told of one probe.
type ProbeSetting struct {
	Name     string
	ID       string // of the probe that it is paired with; "": none
	Position string // where it hangs, for people
	Unit     TempUnit
	Sends    TempUnit `json:",omitempty"` // unit in which it reports; empty: Celsius
	Temp     Limits   // degrees Celsius, whatever Unit is
	Humid    Limits   // percent of relative humidity
	// Rise is a warning: so many kelvins more than the least of the last RiseIn.
	Rise   Limit
	RiseIn vtime.Tick
	Delay  vtime.Tick // how long a reading must be outside a limit before it counts
}

// TempUnit is the unit in which people see temperatures.
type TempUnit string

// Units.
const (
	Celsius    TempUnit = "celsius"
	Fahrenheit TempUnit = "fahrenheit"
)

// Symbol is its sign.
func (u TempUnit) Symbol() string {
	if u == Fahrenheit {
		return "F"
	}
	return "C"
}

// Of is c degrees Celsius in u.
func (u TempUnit) Of(c float64) float64 {
	if u == Fahrenheit {
		return float64(c*9/5) + 32
	}
	return c
}

// ToC is what the card makes of the figure x that a probe has sent, if it takes it for u:
// degrees Celsius, in its steps of a tenth.
func (u TempUnit) ToC(x float64) float64 {
	if u == Fahrenheit {
		return math.Round(float64((x-32)*50/9)) / 10
	}
	return x
}

// Plain is nothing for Celsius, so that equal settings are the same.
func (u TempUnit) Plain() TempUnit {
	if u == Celsius {
		return ""
	}
	return u
}

// Rest is what a contact is while there is nothing to report.
type Rest string

// Rests.
const (
	RestsOpen   Rest = "open"
	RestsClosed Rest = "closed"
)

// ContactSetting is what the card was told of one dry contact.
type ContactSetting struct {
	Name       string
	Probe      string // name of the probe that it is wired to
	Input      int    // of that probe, from 1 to [ContactInputs]
	Rests      Rest
	Supervised bool // a resistor ends its loop: a cut is told from an open contact
	DebounceMS int  // how long it must stay as it is before it counts
	Severity   Severity
}

// ContactInputs is how many contacts a probe can have.
const ContactInputs = 4

// Surroundings are the settings of probes and contacts.
type Surroundings struct {
	BySocket bool // the n-th probe is whatever is in socket n; else probes are told apart by their ids
	Probes   []ProbeSetting
	Contacts []ContactSetting
}

func (s *Surroundings) clone() Surroundings {
	return Surroundings{BySocket: s.BySocket, Probes: slices.Clone(s.Probes), Contacts: slices.Clone(s.Contacts)}
}
