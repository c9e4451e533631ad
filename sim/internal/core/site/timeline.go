package site

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// timeline plays the scripted entries, each once.
type timeline struct {
	entries []plan.Entry
	fired   []bool
}

// next is the next time that the script names.
func (t *timeline) next() vtime.Tick {
	next := vtime.Never
	for i := range t.entries {
		if !t.fired[i] && t.entries[i].When == nil {
			next = min(next, t.entries[i].At)
		}
	}
	return next
}

// playTimeline performs the entries that are due. A condition is looked at once
// every entry before it has happened.
func (s *Site) playTimeline(now vtime.Tick) {
	before := true
	for i := range s.line.entries {
		if s.line.fired[i] {
			continue
		}
		if !s.entryDue(now, &s.line.entries[i], before) {
			before = false
			continue
		}
		s.line.fired[i] = true
		s.play(now, &s.line.entries[i])
	}
}

func (s *Site) entryDue(now vtime.Tick, e *plan.Entry, before bool) bool {
	if e.When == nil {
		return e.At <= now
	}
	if !before {
		return false
	}
	s.show(now)
	return e.When.Eval(&s.view)
}

func (s *Site) play(now vtime.Tick, e *plan.Entry) {
	s.stirred = true // also by what nobody notes
	if e.Note != "" {
		s.note("note", e.Note)
	}
	for _, a := range e.Actions {
		s.reach(now, e.Unit, a)
	}
}

// setCharge puts energy in or takes it out from nowhere; the sum of what the
// battery gave leaves it out.
func (s *Site) setCharge(percent float64) {
	before := s.ups.StoredWh(&s.ups.Physics)
	s.ups.SetCharge(percent)
	s.storedAt += s.ups.StoredWh(&s.ups.Physics) - before
	s.note("bench", fmt.Sprintf("charge set to %.1f %%", percent))
}

func (s *Site) changeSource(now vtime.Tick, name string, u *utility, c *plan.Change) {
	seed := s.self.Seed
	if s.plan.SharedSource { // the same dips as the first unit's
		seed = s.lead().self.Seed
	} else {
		s.noteSource(name, c)
	}
	u.change(now, c, seed)
	s.touch()
}

func (s *Site) noteSource(name string, a *plan.Change) {
	text := fmt.Sprintf("%.1f V %.2f Hz", a.Volts, a.Hz)
	if a.Line > 0 {
		text = fmt.Sprintf("line %d %s", a.Line, text)
	}
	switch {
	case a.Count > 0:
		text += fmt.Sprintf(", %d times", a.Count)
	case a.Lasts > 0:
		text += " for " + a.Lasts.String()
	case a.Over > 0:
		text += " over " + a.Over.String()
	}
	s.note(name, text)
}

func (s *Site) changeHost(now vtime.Tick, a plan.Action) {
	h := &s.hosts[a.Host]
	if a.Draw != nil {
		h.drawW = *a.Draw
		s.tellOfHost(a.Host, snap.What{Kind: snap.WhatHostElse}, fmt.Sprintf("draws %.1f W", h.drawW))
	}
	if a.Stop != nil {
		h.stop = *a.Stop
	}
	if a.Hangs != nil {
		h.hangs = *a.Hangs
	}
	if a.Channel != nil {
		h.channel = *a.Channel
		s.tellOfHost(a.Host, snap.What{Kind: snap.WhatHostElse}, "its channel: "+h.channel.String())
	}
	if a.Order == "stop" {
		s.tell(now, a.Host)
	}
}

// saveSettings is what somebody at the serial line does.
func (s *Site) saveSettings(now vtime.Tick, values []setting.Value) {
	if !s.card.Running() {
		s.note("card", "settings not saved: the card does not answer")
		return
	}
	to := s.card.Saved().Clone()
	if _, err := setting.Apply(to, values); err != nil {
		s.note("card", "settings not saved: "+err.Error())
	} else if r := s.card.Save(now, s.technician(), *to, 0); r.Status != snap.Done {
		s.note("card", "settings not saved: "+r.Reason)
	}
}

// Inject does what a timeline entry says, now.
func (s *Site) Inject(e plan.Entry) { s.play(s.now, &e) }
