package snap

import "ridethrough/sim/internal/core/vtime"

// ProbeState is how the reading of a probe stands to its limits.
type ProbeState uint8

// Probe states.
const (
	ProbeNormal ProbeState = iota
	ProbeWarn
	ProbeCritical
	ProbeLost     // no reading: it is in no socket
	ProbeUnpaired // no reading: the card was not told which probe it is
)

// String is a word for p.
func (p ProbeState) String() string {
	return nameOf([]string{"normal", "warn", "critical", "lost", "unpaired"}, int(p))
}

// MaxGroups is how many outlet groups a card can have.
const MaxGroups = 32

// MaxProbes is how many probes a card can have, and sockets for them.
const MaxProbes = 4

// Probes are the card's environmental probes: the first Count of List, in the order
// of its settings.
type Probes struct {
	Count   int
	List    [MaxProbes]Probe
	Sockets [MaxProbes]string // id of the probe in each; "": none
	Changed vtime.Tick        // when the card was last told of others; 0: never
}

// Probe is one environmental probe as its card reads it. While it is lost the
// readings are the last ones.
type Probe struct {
	Name        string
	State       ProbeState // the worst of all that is watched
	TempC       float64    // degrees Celsius, to a tenth
	HasHumidity bool
	HumidityPct float64    // relative, in whole percent
	RiseK       float64    // above the least of the time that was set for it
	Since       vtime.Tick // when it entered State
	Socket      int8       // from 1; 0: in none
	// Temp, Humid and Rise are how each stands to its limits.
	Temp, Humid, Rise ProbeState
	Alerts, Clears    uint16 // how often something got worse, and normal again
}

// Read says whether there is a reading.
func (p *Probe) Read() bool { return p.State < ProbeLost }

// Cause is what makes the probe's state: the first that is as bad as that.
func (p *Probe) Cause() ProbeCause {
	switch {
	case p.State >= ProbeLost:
		return CauseCable
	case p.State == p.Temp:
		return CauseTemperature
	case p.State == p.Humid:
		return CauseHumidity
	}
	return CauseRise
}

// ProbeCause is what a notification about a probe is about.
type ProbeCause uint8

// Causes.
const (
	CauseCable ProbeCause = iota // it is lost, or back
	CauseTemperature
	CauseHumidity
	CauseRise
)

// String is a word for c.
func (c ProbeCause) String() string {
	return nameOf([]string{"cable", "temperature", "humidity", "rise"}, int(c))
}
