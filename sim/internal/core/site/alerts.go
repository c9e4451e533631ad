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
	w := &s.watches[i]
	row, state, about := uint8(i+1), w.view.State, w.set.Name
	if state == snap.ProbeUnpaired { // what was the matter with it is nobody's any more
		about, state = about+", which was unpaired", snap.ProbeNormal
	} else if state < snap.ProbeLost {
		about += " at " + w.figure(w.view.Cause())
	}
	if state < snap.ProbeLost {
		s.card.HearState(snap.EventProbeUrgent, row, state == snap.ProbeCritical, about)
		s.card.HearState(snap.EventProbe, row, state != snap.ProbeNormal, about)
	}
	s.card.HearState(snap.EventProbeLost, row, state == snap.ProbeLost, about)
}

// contactEvents are what a contact can be that reports, by its severity.
var contactEvents = [...]snap.AlertEvent{snap.EventContactInfo, snap.EventContact, snap.EventContactUrgent}

// event is what the contact is when it reports.
func (l *listen) event() snap.AlertEvent {
	switch l.set.Severity {
	case snap.Info:
		return snap.EventContactInfo
	case snap.Critical:
		return snap.EventContactUrgent
	}
	return snap.EventContact
}

// matters is how much it matters that the contact is so.
func (l *listen) matters(state snap.ContactState) snap.Rank {
	switch state {
	case snap.ContactActive:
		return l.event().Alert().Severity.Rank()
	case snap.ContactFault, snap.ContactLost:
		return snap.EventContactFault.Alert().Severity.Rank()
	}
	return snap.Info.Rank()
}

// probeMatters is how much it matters that a probe is so.
func probeMatters(state snap.ProbeState) snap.Rank {
	switch state {
	case snap.ProbeNormal, snap.ProbeUnpaired:
		return snap.Info.Rank()
	case snap.ProbeCritical:
		return snap.EventProbeUrgent.Alert().Severity.Rank()
	case snap.ProbeLost:
		return snap.EventProbeLost.Alert().Severity.Rank()
	}
	return snap.EventProbe.Alert().Severity.Rank()
}

func (s *Site) hearContact(i int) {
	l := &s.listens[i]
	as := l.event()
	for _, e := range contactEvents {
		s.card.HearState(e, uint8(i+1), e == as && l.said == snap.ContactActive, l.set.Name)
	}
	s.card.HearState(snap.EventContactFault, uint8(i+1), l.said == snap.ContactFault, l.set.Name)
}

// hearNoMore ends what the card's alerts know of probes and contacts: their rows are
// others now.
func (s *Site) hearNoMore() {
	for i := range s.watches {
		for _, e := range []snap.AlertEvent{snap.EventProbeUrgent, snap.EventProbe, snap.EventProbeLost} {
			s.card.HearState(e, uint8(i+1), false, s.watches[i].view.Name)
		}
	}
	for i := range s.listens {
		for _, e := range append(contactEvents[:], snap.EventContactFault) {
			s.card.HearState(e, uint8(i+1), false, s.listens[i].set.Name)
		}
	}
}

// hearAll tells an agent that has just started how things are.
func (s *Site) hearAll() {
	for i := range s.groups {
		if s.own(i) {
			s.hearGroup(i)
		}
	}
	for i := range s.watches {
		s.hearProbe(i)
	}
	for i := range s.listens {
		s.hearContact(i)
	}
}

// announce has an agent that has just started send what is the matter with probes
// and contacts: whether a limit was passed while nothing could be sent it cannot
// know, nor what it sent before.
func (s *Site) announce() {
	for i := range s.watches {
		w := &s.watches[i]
		if v := &w.view; v.State != snap.ProbeNormal && v.State != snap.ProbeUnpaired {
			s.card.Tell(snap.Notification{Kind: snap.NotifyProbeAlert, Row: uint8(i + 1), Cause: v.Cause(), Matters: probeMatters(v.State)})
			w.told = v.State
		}
	}
	for i := range s.listens {
		if said := s.listens[i].said; said == snap.ContactActive || said == snap.ContactFault {
			s.card.Tell(snap.Notification{Kind: snap.NotifyContact, Row: uint8(i + 1), Contact: said, Matters: s.listens[i].matters(said)})
		}
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
