package mains

// Event is the category of an RMS variation.
type Event uint8

// Categories of IEEE 1159.
const (
	Normal    Event = iota // 0.9 to 1.1 of nominal
	Transient              // outside, but for less than half a cycle
	InstantaneousSag
	MomentarySag
	TemporarySag
	InstantaneousSwell
	MomentarySwell
	TemporarySwell
	MomentaryInterruption
	TemporaryInterruption
	SustainedInterruption
	Undervoltage
	Overvoltage
)

// String is the standard's name.
func (e Event) String() string {
	names := [...]string{
		"normal", "transient", "instantaneous sag", "momentary sag", "temporary sag",
		"instantaneous swell", "momentary swell", "temporary swell",
		"momentary interruption", "temporary interruption", "sustained interruption",
		"undervoltage", "overvoltage",
	}
	if int(e) >= len(names) {
		return "unknown"
	}
	return names[e]
}

// length is the standard's class of duration.
type length uint8

const (
	brief         length = iota // below half a cycle
	instantaneous               // half a cycle to 30 cycles
	momentary                   // to 3 s
	temporary                   // to 1 min
	long
)

// Classify names a variation to share of the nominal RMS voltage that lasted
// seconds on a supply of hz (more than 0). A duration on a bound belongs to the
// shorter class; 0.1 and 0.9 of nominal are sags, 1.1 is normal.
func Classify(share, seconds, hz float64) Event {
	l := lengthOf(seconds, hz)
	switch {
	case share > 0.9 && share <= 1.1:
		return Normal
	case l == brief:
		return Transient
	case share < 0.1:
		return [...]Event{instantaneous: MomentaryInterruption, momentary: MomentaryInterruption,
			temporary: TemporaryInterruption, long: SustainedInterruption}[l]
	case share <= 0.9:
		return [...]Event{instantaneous: InstantaneousSag, momentary: MomentarySag,
			temporary: TemporarySag, long: Undervoltage}[l]
	}
	return [...]Event{instantaneous: InstantaneousSwell, momentary: MomentarySwell,
		temporary: TemporarySwell, long: Overvoltage}[l]
}

func lengthOf(seconds, hz float64) length {
	switch cycles := seconds * hz; {
	case cycles < 0.5:
		return brief
	case cycles <= 30:
		return instantaneous
	case seconds <= 3:
		return momentary
	case seconds <= 60:
		return temporary
	}
	return long
}
