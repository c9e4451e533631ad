package snap

import "ridethrough/sim/internal/core/vtime"

// ProbeState is how the reading of a probe stands to its limits.
type ProbeState uint8

// Probe states.
const (
	ProbeNormal ProbeState = iota
	ProbeWarn
	ProbeCritical
	ProbeLost // no reading: the cable is out
)

// String is a word for p.
func (p ProbeState) String() string {
	return nameOf([]string{"normal", "warn", "critical", "lost"}, int(p))
}

// MaxGroups is how many outlet groups a card can have.
const MaxGroups = 32

// MaxProbes is how many probes a card can have.
const MaxProbes = 4

// Probes are the card's environmental probes: the first Count of List.
type Probes struct {
	Count int
	List  [MaxProbes]Probe
}

// Probe is one environmental probe as its card reads it. While it is lost the
// readings are the last ones.
type Probe struct {
	Name        string
	State       ProbeState
	TempC       float64 // degrees Celsius, to a tenth
	HasHumidity bool
	HumidityPct float64    // relative, in whole percent
	Since       vtime.Tick // when it entered State
}
