package card

import (
	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// relays are the card's relay outputs. A card that was set none has no board.
type relays struct {
	out     snap.Relays
	until   [snap.MaxRelays]vtime.Tick // end of a test; in the past: none runs
	probe   bool                       // a probe is beyond a limit or lost
	contact bool                       // a contact reports something, or is out of order
	shown   *snap.Relays               // as it is shown; nil: not up to date
}

// HasRelays says whether somebody has set a relay.
func (c *Card) HasRelays() bool { return c.relays != nil || len(c.inForce.Relays) > 0 }

// Surround tells the card whether a probe and a contact have something to report.
func (c *Card) Surround(probe, contact bool) {
	b := c.board()
	b.probe, b.contact = probe, contact
}

func (c *Card) board() *relays {
	if c.relays == nil {
		c.relays = &relays{}
	}
	return c.relays
}

// driveRelays has the relays be as what they report is. While the card starts, and
// without supply, no coil has current. One that hangs leaves them as they were.
func (c *Card) driveRelays(now vtime.Tick, sees device.Conditions) {
	if !c.HasRelays() || c.state == snap.CardHung {
		return
	}
	b := c.board()
	for i := range b.out {
		is := snap.Relay{}
		if set := c.relayAt(i + 1); set != nil {
			is.Name = set.Name
			if c.Running() {
				is.Manual = b.out[i].Manual
				is.Testing = now < b.until[i]
				is.Alarm = is.Testing || b.reports(set.When, sees, is.Manual)
				is.Closed = is.Alarm == (set.Sense == snap.SenseAlarm)
			}
		}
		c.turn(now, i, is)
	}
}

// relayAt is what was set of the output of that number; nil: nothing.
func (c *Card) relayAt(output int) *snap.RelaySetting {
	for i := range c.inForce.Relays {
		if r := &c.inForce.Relays[i]; r.Output == output {
			return r
		}
	}
	return nil
}

// turn takes an output to what it is now.
func (c *Card) turn(now vtime.Tick, i int, is snap.Relay) {
	b := c.relays
	was := &b.out[i]
	is.Since, is.Turns = was.Since, was.Turns
	if is.Closed != was.Closed {
		is.Since, is.Turns = now, was.Turns+1
		text := snap.Either(is.Closed, "closed", "open")
		name := is.Name
		if name == "" {
			name = was.Name
		}
		c.note("relay "+name, text)
		if c.Running() {
			c.journal.event(now, "relay "+name+": "+text)
		}
	}
	if is != *was {
		*was, b.shown, c.stirred = is, nil, true
	}
}

// faults are the conditions that somebody has to be called for.
var faults = conditions(snap.AlarmBatteryBad, snap.AlarmTempBad, snap.AlarmOutputBad, snap.AlarmChargerFailed, snap.AlarmFanFailure,
	snap.AlarmFuseFailure, snap.AlarmGeneralFault, snap.AlarmDiagnosticTestFailed)

// reported are the conditions of the unit behind each function.
var reported = map[snap.RelayFunction]device.Conditions{
	snap.RelayOnBattery:  conditions(snap.AlarmOnBattery),
	snap.RelayLowBattery: conditions(snap.AlarmLowBattery, snap.AlarmDepletedBattery),
	snap.RelayInput:      conditions(snap.AlarmInputBad),
	snap.RelayBypass:     conditions(snap.AlarmOnBypass),
	snap.RelayOverload:   conditions(snap.AlarmOutputOverload),
	snap.RelayOutputOff:  conditions(snap.AlarmUPSOutputOff, snap.AlarmUPSSystemOff),
	snap.RelayShutdown:   conditions(snap.AlarmShutdownPending, snap.AlarmShutdownImminent),
	snap.RelayFault:      faults,
	snap.RelayNoContact:  conditions(snap.AlarmCommunicationsLost),
}

func conditions(kinds ...snap.AlarmKind) (set device.Conditions) {
	for _, k := range kinds {
		set = set.With(k, true)
	}
	return set
}

func (b *relays) reports(when snap.RelaySet, sees device.Conditions, manual bool) bool {
	for f := snap.RelayOnBattery; f <= snap.RelayNoContact; f++ {
		if when.Has(f) && sees&reported[f] != 0 {
			return true
		}
	}
	return when.Has(snap.RelayProbe) && b.probe || when.Has(snap.RelayContact) && b.contact || when.Has(snap.RelayManual) && manual
}

// OrderRelay tests the relay of that name, or switches its condition manual.
func (c *Card) OrderRelay(now vtime.Tick, by snap.Actor, name, order string) snap.Result {
	for i := range snap.MaxRelays {
		set := c.relayAt(i + 1)
		if set == nil || set.Name != name {
			continue
		}
		b := c.board()
		switch {
		case order == "test":
			b.until[i] = now + snap.RelayTest
		case order != "on" && order != "off":
			return snap.Result{Status: snap.WrongValue, Reason: "a relay is told test, on or off"}
		case !set.When.Has(snap.RelayManual):
			return snap.Result{Status: snap.Inconsistent, Reason: "manual is not among what the relay reports"}
		default:
			b.out[i].Manual = order == "on"
		}
		c.note("relay "+name, order+" by "+who(by))
		c.did(now, true, "relay "+name+": "+order+" by "+who(by))
		return snap.Result{}
	}
	return snap.Result{Status: snap.WrongValue, Reason: "there is no such relay"}
}

func (b *relays) deadline(now vtime.Tick) vtime.Tick {
	next := vtime.Never
	if b != nil {
		for _, until := range b.until {
			if until > now {
				next = min(next, until)
			}
		}
	}
	return next
}

func (b *relays) view() *snap.Relays {
	if b == nil {
		return nil
	}
	if b.shown == nil {
		shown := b.out
		b.shown = &shown
	}
	return b.shown
}

// RelayClosed says whether the contact of that output is closed.
func (c *Card) RelayClosed(output int) bool { return c.relays != nil && c.relays.out[output-1].Closed }
