package site

import (
	"fmt"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/snap"
)

// Do carries out a command at the present instant; Settle has to follow.
func (s *Site) Do(c snap.Command) snap.Result {
	if c.Unit != 0 {
		return s.toUnit(c)
	}
	return s.do(c)
}

func (s *Site) do(c snap.Command) snap.Result {
	s.touch()
	if asksCard(c.Op) && !s.card.Running() {
		return snap.Result{Status: snap.Busy, Reason: "the card does not answer"}
	}
	if why := s.card.Denies(&c); why != "" {
		return snap.Result{Status: snap.Denied, Reason: why}
	}
	switch c.Op {
	case snap.OpSet:
		return s.set(c)
	case snap.OpSave:
		return s.save(c)
	case snap.OpClock:
		s.card.SetClock(s.now, c.By, c.At)
	case snap.OpTimeReal:
		return s.timeReal(c)
	case snap.OpTime:
		return s.timeReply(c)
	case snap.OpTurnAway:
		s.card.TurnAway(s.now, c.Text, c.By.Peer, c.Code)
	case snap.OpHostKey:
		s.card.HasHostKey(s.now, c.Text)
	case snap.OpLease:
		return s.leaseReply(c)
	case snap.OpRestart:
		s.note("card", "restart asked for over "+c.By.Surface)
		s.card.AskedToRestart(s.now, c.By)
		s.card.Restart(s.now)
	case snap.OpReset:
		return s.reset(c)
	case snap.OpFirmwareLoad:
		return s.loaded(c)
	case snap.OpFirmwareSwitch, snap.OpFirmwareReturn:
		return s.card.Switch(s.now, c.By, c.Op == snap.OpFirmwareReturn)
	case snap.OpSwitch:
		order, _ := snap.GroupOrderByName(c.Text)
		return s.Switch(c.By, c.Group, order)
	case snap.OpSignIn:
		return s.card.SignIn(s.now, c)
	case snap.OpSignOut:
		return s.card.SignOut(s.now, c.By, c.Text)
	case snap.OpNotIt:
		return s.card.NotIt(s.now, c.By)
	case snap.OpAccount:
		return s.card.ChangeAccount(s.now, c)
	case snap.OpAuthFail:
		s.card.AuthFailed(s.now, hostOf(c.By.Peer))
	case snap.OpEnergyReset:
		return s.resetEnergy(c)
	case snap.OpHealthReset:
		return s.resetHealth(c)
	case snap.OpRelay:
		return s.card.OrderRelay(s.now, c.By, c.Group, c.Text)
	case snap.OpPing:
		return s.ping(c)
	case snap.OpQuirk:
		return s.quirkActed(c)
	case snap.OpAck:
		return s.delivered(c)
	case snap.OpPosted:
		return s.posted(c)
	case snap.OpOutside:
		return s.goOutside(c)
	case snap.OpArrive:
		return s.arrived(c)
	case snap.OpShown:
		return s.wasShown(c)
	case snap.OpTry:
		return s.try(c)
	case snap.OpProcEnded:
		return s.ended(c)
	default:
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("unknown command %q", c.Op)}
	}
	return snap.Result{}
}

// asksCard says whether an op is one that only the card's surfaces give.
func asksCard(op snap.Op) bool {
	switch op {
	case snap.OpSet, snap.OpSave, snap.OpClock, snap.OpRestart, snap.OpReset, snap.OpPing, snap.OpSwitch, snap.OpSignIn, snap.OpSignOut, snap.OpNotIt, snap.OpAccount, snap.OpAuthFail, snap.OpTry,
		snap.OpFirmwareLoad, snap.OpFirmwareSwitch, snap.OpFirmwareReturn:
		return true
	case snap.OpEnergyReset, snap.OpHealthReset, snap.OpRelay, snap.OpTurnAway:
		return true
	}
	return false
}

func (s *Site) save(c snap.Command) snap.Result {
	if c.Settings == nil {
		return snap.Result{Status: snap.WrongValue, Reason: "a save without settings"}
	}
	return s.card.Save(s.now, c.By, *c.Settings, c.Revision)
}

func (s *Site) reset(c snap.Command) snap.Result {
	level, ok := card.LevelByName(c.Text)
	if !ok {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no reset of %q: settings, accounts or all", c.Text)}
	}
	s.card.Reset(s.now, c.By, level)
	return snap.Result{}
}

func (s *Site) ended(c snap.Command) snap.Result {
	i, r := s.process(c.Host)
	if i >= 0 {
		s.processEnded(i, c.Run, c.Code)
	}
	return r
}

// process is the index of the host with that name that is a real process, -1
// with a refusal if there is none.
func (s *Site) process(name string) (int, snap.Result) {
	for i := range s.hosts {
		if s.hosts[i].cfg.Name == name && s.hosts[i].isProcess() {
			return i, snap.Result{}
		}
	}
	return -1, snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no host %q with a process", name)}
}
