package site

import (
	"bytes"
	"fmt"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// What a manager of the site has to have in the view of its user: upsOutputSource to
// read, upsShutdownAfterDelay to order (RFC 1628).
var (
	readsFrom = []uint32{1, 3, 6, 1, 2, 1, 33, 1, 4, 1, 0}
	writesTo  = []uint32{1, 3, 6, 1, 2, 1, 33, 1, 8, 2, 0}
)

// usmCounts are the counters of the card's agent run that began at run.
type usmCounts struct {
	run   vtime.Tick
	stats *snap.USMStats
}

// authentic says whether the card takes a request of SNMPv3 of c. What it does not take
// its counters and its journal tell apart.
func (s *Site) authentic(now vtime.Tick, at int, c *plan.Client, writes bool) bool {
	if c.As == nil {
		return true
	}
	f := usmFault(s.card.Access(), c.As, writes)
	if f == snap.USMOpen {
		return true
	}
	s.card.Unauthentic(now, f, s.addressAt(at).String())
	s.countUSM(f)
	return false
}

// authFailed tells of a request that the card's agent, which counts by itself, has not
// taken. The command may come from a journal.
func (s *Site) authFailed(c snap.Command) snap.Result {
	switch {
	case c.Code < 0 || c.Code >= int(snap.USMFaults):
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no fault %d of a request", c.Code)}
	case c.Code == 0:
		s.card.AuthFailed(s.now, hostOf(c.By.Peer))
	default:
		s.card.Unauthentic(s.now, snap.USMFault(c.Code), hostOf(c.By.Peer))
	}
	return snap.Result{}
}

// usmFault is the first thing that is wrong with a request of who (RFC 3414 section
// 3.2 steps 4 to 8, and RFC 3415 section 3).
func usmFault(a *snap.Access, who *snap.User, writes bool) snap.USMFault {
	u := a.User([]byte(who.Name))
	switch {
	case u == nil:
		return snap.USMUnknownUser
	case who.Level > u.Highest():
		return snap.USMUnsupportedLevel
	case who.Level >= snap.AuthNoPriv && (other(who.Auth, u.Auth) || !sameKey(u.Auth, who.AuthPassword, u.AuthPassword)):
		return snap.USMWrongDigest
	case who.Level == snap.AuthPriv && (other(who.Priv, u.Priv) || !sameKey(u.Auth, who.PrivPassword, u.PrivPassword)):
		if a.ReportGarbled {
			return snap.USMNotDecrypted
		}
		return snap.USMGarbled
	case who.Level < u.Level, !writes && !u.Views.Read.Holds(readsFrom), writes && !u.Views.Write.Holds(writesTo):
		return snap.USMNotPermitted
	}
	return snap.USMOpen
}

// other says whether a manager goes by another protocol than the card's. One that
// has none of its own goes by that.
func other[P ~uint8](own, cards P) bool { return own != 0 && own != cards }

// sameKey says whether two pass phrases, or keys made of one, make the same key.
func sameKey(p snap.AuthProtocol, x, y snap.Secret) bool {
	if x.Key() == nil && y.Key() == nil {
		return x.Same(y)
	}
	return bytes.Equal(x.Master(p), y.Master(p))
}

func (s *Site) countUSM(f snap.USMFault) {
	if !s.card.Running() {
		return
	}
	u, run := &s.ownTraffic().usm, s.view.Card.StartedAt
	stats := snap.USMStats{}
	if u.stats != nil && u.run == run {
		stats = *u.stats
	}
	stats[f]++
	*u = usmCounts{run, &stats}
	s.touch()
}

// usmStats are the counters as the card shows them; an agent starts them at zero.
func (s *Site) usmStats(run vtime.Tick) *snap.USMStats {
	if s.traffic == nil || s.traffic.usm.run != run {
		return nil
	}
	return s.traffic.usm.stats
}
