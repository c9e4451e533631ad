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

// act does one thing to the site.
func (s *Site) act(now vtime.Tick, a plan.Action) {
	switch a.Kind {
	case plan.ActSource:
		s.changeSource(now, "source", &s.utility, &a.Change)
	case plan.ActBypassSource:
		own := *s.second
		own.touched = true
		s.second = &own
		s.changeSource(now, "bypass source", s.second, &a.Change)
	case plan.ActCardRestart:
		s.note("card", "restart")
		s.card.Restart(now)
	case plan.ActCardLife:
		s.cardLife(now, a.Order)
	case plan.ActUnitLink:
		s.cutUnit(now, !a.On)
	case plan.ActTest:
		if why := s.ups.StartTest(now, a.Test); why != "" {
			s.note("test", a.Test.String()+" refused: "+why)
		}
	case plan.ActHost:
		s.changeHost(now, a)
	case plan.ActAlarm:
		s.ups.Raise(a.Alarm, a.On)
		s.note("bench", fmt.Sprintf("alarm %s %s", a.Alarm, onOff(a.On)))
	case plan.ActCharger:
		s.ups.SetCharger(a.On)
		s.note("charger", workingFailed(a.On))
	case plan.ActQuirk:
		s.setQuirk(now, a.Quirk, a.On)
	case plan.ActFirmware:
		s.update(now, a.Update)
	case plan.ActLabel:
		s.atCard("password not changed", func() snap.Result { return s.card.ChangeLabel(now, s.technician()) })
	case plan.ActHostKey:
		s.card.NewHostKey(now, "")
	case plan.ActDHCP:
		s.card.ServeDHCP(a.On)
		s.note("bench", "address server "+onOff(a.On))
	case plan.ActLink:
		s.plug(now, a.On)
	case plan.ActNetwork:
		s.changeNet(now, a.Net)
	case plan.ActOutput:
		s.note("bench", "output switched "+onOff(a.On)+" at the unit")
		s.ups.Panel(now, a.On)
	case plan.ActGenerator:
		s.note("bench", "generator "+workingFailed(a.On))
		s.setGenerator(now, a.On)
	case plan.ActCooling:
		s.setCooling(a.On)
	case plan.ActFan:
		s.ups.SetFan(a.On)
		s.note("fan", workingFailed(a.On))
	case plan.ActProbe:
		s.plugProbe(now, a.Probe, a.On)
	case plan.ActProbeSwap:
		s.swapProbes(now, a.Probe, a.Other, a.On)
	case plan.ActProbePlace:
		s.stir(now, a)
	case plan.ActContact:
		s.moveContact(now, a)
	case plan.ActInput:
		s.setInput(now, a.On)
	case plan.ActBypass:
		s.note("bench", "bypass "+a.Order+" at the unit")
		s.refused("bypass "+a.Order, s.ups.SetBypass(now, a.Order))
	case plan.ActInverter:
		s.note("inverter", workingFailed(a.On))
		s.ups.SetInverter(now, a.On)
	case plan.ActHighEfficiency:
		s.note("bench", "high-efficiency mode "+onOff(a.On)+" at the unit")
		s.refused("high-efficiency mode", s.ups.SetHighEfficiency(now, a.On))
	case plan.ActSwitch:
		order, _ := snap.GroupOrderByName(a.Order) // the schema lists the names
		s.Switch(snap.Actor{Surface: "timeline", User: a.By}, s.groups[a.Group].cfg.Name, order)
	case plan.ActLockout:
		s.lockOut(now, a.On)
	case plan.ActServer:
		s.changeServer(now, &a.Server)
	case plan.ActPolicy:
		s.byHand(now, a.Order)
	case plan.ActTry:
		s.tryOut(a.Order)
	case plan.ActTime, plan.ActClock, plan.ActSettings:
		s.actCard(now, a)
	case plan.ActSignIn:
		s.trySignIn(now, a.SignIn)
	case plan.ActAccount:
		s.changeAccount(now, a.Account)
	case plan.ActLoginServer:
		s.setLoginServer(a.Host, plan.ServerIs(a.Order))
	case plan.ActReplace:
		if !s.ups.Replace(a.Value, a.Left) {
			s.note("bench", "battery not replaced: it carries the load")
		}
	case plan.ActHealthReset:
		if r := s.tellNew(); r.Status != snap.Done {
			s.note("card", "health-reset refused: "+r.Reason)
		}
	case plan.ActCharge:
		s.setCharge(a.Value)
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

func workingFailed(on bool) string {
	if on {
		return "working"
	}
	return "failed"
}

// refused notes that something was not done, if there is a reason.
func (s *Site) refused(what, why string) {
	if why != "" {
		s.note("ups", what+" refused: "+why)
	}
}

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
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
