package snap

import (
	"fmt"
	"slices"
)

// Conformance is how much of RFC 1628 a card's agent has. What it does not have
// is absent: from reads, walks, writes and notifications.
type Conformance uint8

// Levels, from the most to the least. Those but the first are the compliance
// statements of RFC 1628 section 4.
const (
	ConformAll    Conformance = iota // every object, those too that no statement asks for
	ConformFull                      // upsFullCompliance
	ConformBasic                     // upsBasicCompliance
	ConformSubset                    // upsSubsetCompliance, of two-contact units

	// Conformances is the number of levels: a size for arrays by level.
	Conformances
)

var conformanceNames = []string{"all", "full", "basic", "subset"}

// String is the name of c; scenarios use it.
func (c Conformance) String() string { return nameOf(conformanceNames, int(c)) }

// MarshalText is the name.
func (c Conformance) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads a name.
func (c *Conformance) UnmarshalText(text []byte) error {
	level, ok := ConformanceByName(string(text))
	if !ok {
		return fmt.Errorf("there is no conformance %q", text)
	}
	*c = level
	return nil
}

// ConformanceByName is the level with that name.
func ConformanceByName(name string) (Conformance, bool) {
	i := slices.Index(conformanceNames, name)
	return Conformance(max(i, 0)), i >= 0
}
