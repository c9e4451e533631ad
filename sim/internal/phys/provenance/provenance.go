package provenance

// Kind is where a figure comes from.
type Kind string

// Kinds.
const (
	Scenario  Kind = "scenario"  // the scenario file sets it
	Published Kind = "published" // in a source that was seen, which is named
	Memory    Kind = "memory"    // published, but recalled and not seen
	Practice  Kind = "practice"  // common practice of the trade
	Fitted    Kind = "fitted"    // by least squares to a published discharge table
	Derived   Kind = "derived"   // worked out of other figures
	Ours      Kind = "ours"      // invented, of a plausible size
)

// Kinds is all of them.
func Kinds() []Kind { return []Kind{Scenario, Published, Memory, Practice, Fitted, Derived, Ours} }

// Figure is one figure of the model that no scenario changes.
type Figure struct {
	Group  string // of what it is a figure, such as "charger"
	Name   string
	Value  float64
	Unit   string // "" for a share or a factor
	Kind   Kind
	Source string // which source, or why
}
