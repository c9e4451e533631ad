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
	do, asks := ofSurfaces[c.Op]
	if asks && !s.card.Running() {
		return snap.Result{Status: snap.Busy, Reason: "the card does not answer"}
	}
	if why := s.card.Denies(&c); why != "" {
		return snap.Result{Status: snap.Denied, Reason: why}
	}
	if !asks {
		do = ofHosts[c.Op]
	}
	if do == nil {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("unknown command %q", c.Op)}
	}
	return do(s, c)
}

// command carries one out.
type command func(*Site, snap.Command) snap.Result

// ofSurfaces are the commands that only the card's surfaces give: a card that does not
// run gives none.
var ofSurfaces = map[snap.Op]command{
	snap.OpSet:     (*Site).set,
	snap.OpSave:    (*Site).save,
	snap.OpClock:   always(func(s *Site, c snap.Command) { s.card.SetClock(s.now, c.By, c.At) }),
	snap.OpRestart: always((*Site).restartCard),
	snap.OpReset:   (*Site).reset,
	snap.OpPing:    (*Site).ping,
	snap.OpTry:     (*Site).try,

	snap.OpSwitch:      (*Site).switchGroup,
	snap.OpRelay:       func(s *Site, c snap.Command) snap.Result { return s.card.OrderRelay(s.now, c.By, c.Group, c.Text) },
	snap.OpEnergyReset: (*Site).resetEnergy,
	snap.OpHealthReset: (*Site).resetHealth,

	snap.OpSignIn:   func(s *Site, c snap.Command) snap.Result { return s.card.SignIn(s.now, c) },
	snap.OpSignOut:  func(s *Site, c snap.Command) snap.Result { return s.card.SignOut(s.now, c.By, c.Text) },
	snap.OpNotIt:    func(s *Site, c snap.Command) snap.Result { return s.card.NotIt(s.now, c.By) },
	snap.OpAccount:  func(s *Site, c snap.Command) snap.Result { return s.card.ChangeAccount(s.now, c) },
	snap.OpAuthFail: (*Site).authFailed,
	snap.OpTurnAway: always(func(s *Site, c snap.Command) { s.card.TurnAway(s.now, c.Text, c.By.Peer, c.Code) }),

	snap.OpFirmwareLoad:   (*Site).loaded,
	snap.OpFirmwareSwitch: func(s *Site, c snap.Command) snap.Result { return s.card.Switch(s.now, c.By, false) },
	snap.OpFirmwareReturn: func(s *Site, c snap.Command) snap.Result { return s.card.Switch(s.now, c.By, true) },
}

// ofHosts are those by which whoever serves the site tells what became of something.
var ofHosts = map[snap.Op]command{
	snap.OpTimeReal:  (*Site).timeReal,
	snap.OpTime:      (*Site).timeReply,
	snap.OpHostKey:   always(func(s *Site, c snap.Command) { s.card.HasHostKey(s.now, c.Text) }),
	snap.OpLease:     (*Site).leaseReply,
	snap.OpQuirk:     (*Site).quirkActed,
	snap.OpAck:       (*Site).delivered,
	snap.OpPosted:    (*Site).posted,
	snap.OpOutside:   (*Site).goOutside,
	snap.OpArrive:    (*Site).arrived,
	snap.OpLost:      (*Site).lostOutside,
	snap.OpShown:     (*Site).wasShown,
	snap.OpProcEnded: (*Site).ended,
}

// always is a command that comes to nothing but being done.
func always(do func(*Site, snap.Command)) command {
	return func(s *Site, c snap.Command) snap.Result {
		do(s, c)
		return snap.Result{}
	}
}

func (s *Site) restartCard(c snap.Command) {
	s.note("card", "restart asked for over "+c.By.Surface)
	s.card.AskedToRestart(s.now, c.By)
	s.card.Restart(s.now)
}

func (s *Site) switchGroup(c snap.Command) snap.Result {
	order, _ := snap.GroupOrderByName(c.Text)
	return s.Switch(c.By, c.Group, order)
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
