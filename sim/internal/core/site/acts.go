package site

import (
	"fmt"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// act does one thing to the site.
func (s *Site) act(now vtime.Tick, a plan.Action) { acts[a.Kind](s, now, &a) }

// acts are what the timeline can do to a site.
var acts = map[plan.ActionKind]func(s *Site, now vtime.Tick, a *plan.Action){
	// The supply.
	plan.ActSource:       func(s *Site, now vtime.Tick, a *plan.Action) { s.changeSource(now, "source", &s.utility, &a.Change) },
	plan.ActBypassSource: func(s *Site, now vtime.Tick, a *plan.Action) { s.changeSecond(now, &a.Change) },
	plan.ActGenerator:    (*Site).actGenerator,
	plan.ActInput:        func(s *Site, now vtime.Tick, a *plan.Action) { s.setInput(now, a.On) },

	// The unit, by hand or because it fails.
	plan.ActTest:           (*Site).actTest,
	plan.ActAlarm:          (*Site).actAlarm,
	plan.ActCharger:        func(s *Site, _ vtime.Tick, a *plan.Action) { s.fails("charger", a.On, s.ups.SetCharger) },
	plan.ActFan:            func(s *Site, _ vtime.Tick, a *plan.Action) { s.fails("fan", a.On, s.ups.SetFan) },
	plan.ActInverter:       (*Site).actInverter,
	plan.ActOutput:         (*Site).actOutput,
	plan.ActBypass:         (*Site).actBypass,
	plan.ActHighEfficiency: (*Site).actHighEfficiency,
	plan.ActLockout:        func(s *Site, now vtime.Tick, a *plan.Action) { s.lockOut(now, a.On) },
	plan.ActReplace:        (*Site).actReplace,
	plan.ActHealthReset:    (*Site).actHealthReset,
	plan.ActCharge:         func(s *Site, _ vtime.Tick, a *plan.Action) { s.setCharge(a.Value) },

	// The card in its slot, its firmware and who is at it.
	plan.ActCardRestart: (*Site).actRestart,
	plan.ActCardLife:    func(s *Site, now vtime.Tick, a *plan.Action) { s.cardLife(now, a.Order) },
	plan.ActUnitLink:    func(s *Site, now vtime.Tick, a *plan.Action) { s.cutUnit(now, !a.On) },
	plan.ActQuirk:       func(s *Site, now vtime.Tick, a *plan.Action) { s.setQuirk(now, a.Quirk, a.On) },
	plan.ActFirmware:    func(s *Site, now vtime.Tick, a *plan.Action) { s.update(now, a.Update) },
	plan.ActHostKey:     func(s *Site, now vtime.Tick, _ *plan.Action) { s.card.NewHostKey(now, "") },
	plan.ActLabel:       (*Site).actLabel,
	plan.ActReset:       (*Site).actReset,
	plan.ActClock:       (*Site).actClock,
	plan.ActSettings:    func(s *Site, now vtime.Tick, a *plan.Action) { s.saveSettings(now, a.Settings) },
	plan.ActTry:         func(s *Site, _ vtime.Tick, a *plan.Action) { s.tryOut(a.Order) },
	plan.ActSignIn:      func(s *Site, now vtime.Tick, a *plan.Action) { s.trySignIn(now, a.SignIn) },
	plan.ActAccount:     func(s *Site, now vtime.Tick, a *plan.Action) { s.changeAccount(now, a.Account) },
	plan.ActSwitch:      (*Site).actSwitch,

	// Its network, and the servers there.
	plan.ActLink:        func(s *Site, now vtime.Tick, a *plan.Action) { s.plug(now, a.On) },
	plan.ActDHCP:        (*Site).actDHCP,
	plan.ActNetwork:     func(s *Site, now vtime.Tick, a *plan.Action) { s.changeNet(now, a.Net) },
	plan.ActTime:        func(s *Site, _ vtime.Tick, a *plan.Action) { s.changeTimeServer(a.Time) },
	plan.ActServer:      func(s *Site, now vtime.Tick, a *plan.Action) { s.changeServer(now, &a.Server) },
	plan.ActLoginServer: func(s *Site, _ vtime.Tick, a *plan.Action) { s.setLoginServer(a.Host, plan.ServerIs(a.Order)) },

	// What it protects, and the room.
	plan.ActHost:       func(s *Site, now vtime.Tick, a *plan.Action) { s.changeHost(now, *a) },
	plan.ActPolicy:     func(s *Site, now vtime.Tick, a *plan.Action) { s.byHand(now, a.Order) },
	plan.ActCooling:    func(s *Site, _ vtime.Tick, a *plan.Action) { s.setCooling(a.On) },
	plan.ActProbe:      func(s *Site, now vtime.Tick, a *plan.Action) { s.plugProbe(now, a.Probe, a.On) },
	plan.ActProbeSwap:  func(s *Site, now vtime.Tick, a *plan.Action) { s.swapProbes(now, a.Probe, a.Other, a.On) },
	plan.ActProbePlace: func(s *Site, now vtime.Tick, a *plan.Action) { s.stir(now, *a) },
	plan.ActContact:    func(s *Site, now vtime.Tick, a *plan.Action) { s.moveContact(now, *a) },
}

func (s *Site) changeSecond(now vtime.Tick, c *plan.Change) {
	own := *s.second
	own.touched = true
	s.second = &own
	s.changeSource(now, "bypass source", s.second, c)
}

func (s *Site) actGenerator(now vtime.Tick, a *plan.Action) {
	s.note("bench", "generator "+workingFailed(a.On))
	s.setGenerator(now, a.On)
}

func (s *Site) actTest(now vtime.Tick, a *plan.Action) {
	if why := s.ups.StartTest(now, a.Test); why != "" {
		s.note("test", a.Test.String()+" refused: "+why)
	}
}

func (s *Site) actAlarm(_ vtime.Tick, a *plan.Action) {
	s.ups.Raise(a.Alarm, a.On)
	s.note("bench", fmt.Sprintf("alarm %s %s", a.Alarm, onOff(a.On)))
}

// fails has a part of the unit fail or work again.
func (s *Site) fails(part string, works bool, set func(bool)) {
	set(works)
	s.note(part, workingFailed(works))
}

func (s *Site) actInverter(now vtime.Tick, a *plan.Action) {
	s.note("inverter", workingFailed(a.On))
	s.ups.SetInverter(now, a.On)
}

func (s *Site) actOutput(now vtime.Tick, a *plan.Action) {
	s.note("bench", "output switched "+onOff(a.On)+" at the unit")
	s.ups.Panel(now, a.On)
}

func (s *Site) actBypass(now vtime.Tick, a *plan.Action) {
	s.note("bench", "bypass "+a.Order+" at the unit")
	s.refused("bypass "+a.Order, s.ups.SetBypass(now, a.Order))
}

func (s *Site) actHighEfficiency(now vtime.Tick, a *plan.Action) {
	s.note("bench", "high-efficiency mode "+onOff(a.On)+" at the unit")
	s.refused("high-efficiency mode", s.ups.SetHighEfficiency(now, a.On))
}

func (s *Site) actReplace(_ vtime.Tick, a *plan.Action) {
	if !s.ups.Replace(a.Value, a.Left) {
		s.note("bench", "battery not replaced: it carries the load")
	}
}

func (s *Site) actHealthReset(vtime.Tick, *plan.Action) {
	if r := s.tellNew(); r.Status != snap.Done {
		s.note("card", "health-reset refused: "+r.Reason)
	}
}

func (s *Site) actRestart(now vtime.Tick, _ *plan.Action) {
	s.note("card", "restart")
	s.card.Restart(now)
}

func (s *Site) actClock(now vtime.Tick, a *plan.Action) {
	s.card.SetClock(now, s.technician(), snap.StampOf(s.plan.Start)+snap.Stamp(now+a.Offset))
}

func (s *Site) actLabel(now vtime.Tick, _ *plan.Action) {
	s.atCard("password not changed", func() snap.Result { return s.card.ChangeLabel(now, s.technician()) })
}

func (s *Site) actReset(now vtime.Tick, a *plan.Action) {
	level, _ := card.LevelByName(a.Order) // the schema lists the names
	s.atCard("no reset", func() snap.Result {
		s.card.Reset(now, s.technician(), level)
		return snap.Result{}
	})
}

func (s *Site) actSwitch(_ vtime.Tick, a *plan.Action) {
	order, _ := snap.GroupOrderByName(a.Order) // the schema lists the names
	s.Switch(snap.Actor{Surface: "timeline", User: a.By}, s.groups[a.Group].cfg.Name, order)
}

func (s *Site) actDHCP(_ vtime.Tick, a *plan.Action) {
	s.card.ServeDHCP(a.On)
	s.noteOnce("bench", "address server "+onOff(a.On))
}

// refused notes that something was not done, if there is a reason.
func (s *Site) refused(what, why string) {
	if why != "" {
		s.note("ups", what+" refused: "+why)
	}
}

func workingFailed(on bool) string { return snap.Either(on, "working", "failed") }

func onOff(on bool) string { return snap.Either(on, "on", "off") }
