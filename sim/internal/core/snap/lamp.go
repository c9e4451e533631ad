package snap

import "ridethrough/sim/internal/core/vtime"

// BootStage is how far a card has come with its start.
type BootStage uint8

// Stages.
const (
	StageNone     BootStage = iota // it is not starting
	StageChecking                  // checks itself
	StageLoading                   // loads its firmware and its memory
	StageServices                  // opens its surfaces
)

// String is a word for s; "" for none.
func (s BootStage) String() string {
	if s == StageNone {
		return ""
	}
	return nameOf([]string{"", "checking", "loading", "services"}, int(s))
}

// Shares of a start, in percent, at which the second and the third stage begin.
const (
	loadingFrom  = 10
	servicesFrom = 70
)

// Stage is how far the card has come with its start at now.
func (c *Card) Stage(now vtime.Tick) BootStage {
	if c.State != CardBooting {
		return StageNone
	}
	takes := max(c.RunningAt-c.BootAt, 1)
	switch share := (now - c.BootAt) * 100 / takes; {
	case share < loadingFrom:
		return StageChecking
	case share < servicesFrom:
		return StageLoading
	}
	return StageServices
}

// Pattern is how a lamp shines.
type Pattern uint8

// Patterns: ours, of no real card.
const (
	Dark   Pattern = iota
	Steady         // shines all the time
	Slow           // half a second on, half a second off
	Fast           // an eighth of a second on, an eighth off
	Beat           // one short flash every two seconds
	Double         // two short flashes every two seconds
)

// String is a word for p.
func (p Pattern) String() string {
	return nameOf([]string{"dark", "steady", "slow", "fast", "beat", "double"}, int(p))
}

// Lamp is one lamp on the card's front.
type Lamp struct {
	Name    string
	Pattern Pattern
	Means   string // what the pattern says
}

// Lamps are the lamps on the card's front at now, from left to right.
func (d *Device) Lamps(now vtime.Tick) []Lamp {
	c := &d.Card
	return []Lamp{lampWork(c, now), lampUPS(c), lampNetwork(c), lampAlert(d)}
}

func lampWork(c *Card, now vtime.Tick) Lamp {
	switch c.State {
	case CardBooting:
		if c.Stage(now) == StageChecking {
			return Lamp{"work", Fast, "checks itself"}
		}
		return Lamp{"work", Slow, "starts"}
	case CardRunning:
		return Lamp{"work", Beat, "runs"}
	case CardHung:
		return Lamp{"work", Steady, "the firmware stands still"}
	}
	return Lamp{"work", Dark, "no supply"}
}

// alive says whether the firmware has set the other lamps.
func (c *Card) alive() bool { return c.State == CardRunning || c.State == CardHung }

func lampUPS(c *Card) Lamp {
	switch {
	case !c.alive():
		return Lamp{"ups", Dark, "nobody has looked yet"}
	case c.UnitLost:
		return Lamp{"ups", Slow, "no contact with the UPS"}
	}
	return Lamp{"ups", Steady, "contact with the UPS"}
}

// lampNetwork has its link from the port itself, which needs no firmware.
func lampNetwork(c *Card) Lamp {
	switch {
	case c.State == CardOff || c.State == CardAbsent || c.LinkDown:
		return Lamp{"network", Dark, "no link"}
	case c.Address.State == AddressDuplicate:
		return Lamp{"network", Double, "another machine has the card's address"}
	case !c.Address.Reachable():
		return Lamp{"network", Slow, "link, no address"}
	}
	return Lamp{"network", Steady, "link and address"}
}

func lampAlert(d *Device) Lamp {
	switch {
	case !d.Card.alive() || d.Alarms.Count == 0:
		return Lamp{"alert", Dark, "no alarm"}
	case d.Alarms.Has(AlarmOnBattery):
		return Lamp{"alert", Fast, "on battery"}
	}
	return Lamp{"alert", Steady, "an alarm is present"}
}
