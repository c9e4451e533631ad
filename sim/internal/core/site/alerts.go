package site

import (
	"fmt"
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// hearGroup, hearProbe and hearContact tell the card's alerts how one of them is.
func (s *Site) hearGroup(i int) {
	s.card.HearState(snap.EventGroup, uint8(i+1), !s.groups[i].on, s.groups[i].cfg.Name)
}

func (s *Site) hearProbe(i int) {
	p := &s.probes[i]
	row, state, about := uint8(i+1), p.view.State, p.cfg.Name
	if state != snap.ProbeLost {
		about += fmt.Sprintf(" at %.1f C", p.view.TempC)
		s.card.HearState(snap.EventProbeUrgent, row, state == snap.ProbeCritical, about)
		s.card.HearState(snap.EventProbe, row, state != snap.ProbeNormal, about)
	}
	s.card.HearState(snap.EventProbeLost, row, state == snap.ProbeLost, about)
}

func (s *Site) hearContact(i int) {
	state, name := s.contactState(i), s.roster.Contacts[i].Name
	s.card.HearState(snap.EventContact, uint8(i+1), state == snap.ContactActive, name)
	s.card.HearState(snap.EventContactFault, uint8(i+1), state == snap.ContactFault, name)
}

// hearAll tells an agent that has just started how things are.
func (s *Site) hearAll() {
	for i := range s.groups {
		if !s.groups[i].cfg.FromMains {
			s.hearGroup(i)
		}
	}
	for i := range s.probes {
		s.hearProbe(i)
	}
	for i := range s.contacts {
		s.hearContact(i)
	}
}

// facts is how the unit is, in lines of a message, as its card reads it.
func (s *Site) facts() string {
	var d snap.Device
	s.ups.View(&d)
	s.ups.Readings(&d, &s.ups.Physics, s.flows)
	runtime := int64(math.Ceil(d.Battery.RuntimeS / 60))
	text := fmt.Sprintf("%-12s %s\n%-12s %.0f %%, runtime %d min\n%-12s %.0f %%\n",
		"Output", d.UPS.Source, "Battery", d.Battery.ChargePct, runtime, "Load", d.Output.Lines[0].LoadPct)
	if d.UPS.OnBatterySince != vtime.Never {
		text += fmt.Sprintf("%-12s %s\n", "On battery", (s.now - d.UPS.OnBatterySince).Duration())
	}
	return text
}
