package site

import (
	"net/netip"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// bond ties the units of one site together. Each is a Site of its own with the
// groups and hosts of the first, which leads: it steps, plays the timeline and lets
// the hosts act. Whatever happens to one has all of them look again.
type bond struct {
	units []*Site // in the order of the plan; the first leads
	views []*snap.Site
	gaps  []gap // of each unit's output, the last one
	echo  bool  // what befalls a unit now befalls all: the first has told
}

// gap is a dead time of an output.
type gap struct {
	at, lasts vtime.Tick
}

// remember keeps the gap of an output, which may not be the only one that begins now.
func (s *Site) remember(g gap) {
	if s.bond != nil {
		s.bond.gaps[s.plan.Unit] = g
	}
}

// gapAt is how long group i is dead by a gap that begins now; own is that of this unit.
func (s *Site) gapAt(i int, own gap) vtime.Tick {
	switch unit := s.groups[i].cfg.Unit; {
	case s.groups[i].cfg.FromMains:
		return 0
	case unit == s.plan.Unit:
		return own.lasts
	case s.bond.gaps[unit].at == own.at:
		return s.bond.gaps[unit].lasts
	}
	return 0
}

// addUnits makes the further units of the plan, at tick 0.
func (s *Site) addUnits() {
	if len(s.plan.Units) == 0 {
		return
	}
	s.bond = &bond{units: []*Site{s}, gaps: slices.Repeat([]gap{{at: vtime.Never}}, 1+len(s.plan.Units))}
	for _, p := range s.plan.Units {
		u := newSite(p)
		s.bond.units = append(s.bond.units, u)
		u.begin(&Scratch{bond: s.bond})
		u.servers.share(&s.servers)
		s.bond.views = append(s.bond.views, &u.view)
	}
	for _, u := range s.bond.units {
		u.card.Beside(u.elsewhere)
	}
	s.ups.SetLoad(s.load(0)) // what a unit keeps off since an earlier session draws nothing
	s.touch()
}

// elsewhere says whether the card of another unit has an address.
func (s *Site) elsewhere(addr netip.Addr) bool {
	return slices.ContainsFunc(s.bond.units, func(u *Site) bool {
		at, link := u.card.Address()
		return u != s && link && u.card.Running() && (at.Prefix.Addr() == addr || at.V6.Addr() == addr)
	})
}

// unit is the one with that number.
func (s *Site) unit(i int) *Site {
	if s.bond == nil {
		return s
	}
	return s.bond.units[i]
}

// others are the further units, for the one that leads.
func (s *Site) others() []*Site {
	if s.bond == nil || !s.leads() {
		return nil
	}
	return s.bond.units[1:]
}

func (s *Site) leads() bool { return s.bond == nil || s.bond.units[0] == s }

func (s *Site) lead() *Site {
	if s.bond == nil {
		return s
	}
	return s.bond.units[0]
}

// own says whether this unit feeds group i.
func (s *Site) own(i int) bool { return s.plan.Feeds(i) }

// minds says whether group i is looked after here: the first unit does it for those
// that the mains feed, too.
func (s *Site) minds(i int) bool { return s.plan.Groups[i].Unit == s.plan.Unit }

// mindsHost says whether h has a supply that is looked after here.
func (s *Site) mindsHost(h *host) bool { return slices.ContainsFunc(h.cfg.Groups, s.minds) }

// share has messages of all units arrive at the same sinks.
func (s *servers) share(of *servers) {
	for i := range s.list {
		s.list[i].sink = of.list[i].sink
	}
}

// subject is whom an event is about. What all units have in common keeps its name.
func (s *Site) subject(kind snap.WhatKind, subject string) string {
	if s.leads() || kind.Common() {
		return subject
	}
	return s.plan.UnitName + " " + subject
}

// reach has everybody to whom it happens do what an entry says.
func (s *Site) reach(now vtime.Tick, unit int, a plan.Action) {
	switch {
	case a.Kind == plan.ActSwitch:
		s.unit(s.plan.Groups[a.Group].Unit).act(now, a)
	case unit == 0 && befallsAll(&a):
		s.act(now, a)
		for _, u := range s.others() {
			if u.shares(&a) {
				s.bond.echo = true
				u.act(now, common(a))
				s.bond.echo = false
			}
		}
	case a.Kind == plan.ActGenerator:
		s.unit(unit).feeder().act(now, a)
	default:
		s.unit(unit).act(now, a)
	}
}

// shares says whether what befalls all units befalls this one.
func (s *Site) shares(a *plan.Action) bool {
	switch a.Kind {
	case plan.ActSource:
		return s.plan.SharedSource
	case plan.ActPolicy:
		return s.plan.Policy != nil
	}
	return true
}

// befallsAll says whether what happens is one thing for all units, unless somebody
// says to which of them it happens.
func befallsAll(a *plan.Action) bool {
	switch a.Kind {
	case plan.ActSource, plan.ActServer, plan.ActTime, plan.ActLoginServer, plan.ActDHCP, plan.ActPolicy:
		return true
	case plan.ActNetwork:
		return a.Net.Router != "" || a.Net.Claim.IsValid() || a.Net.Release.IsValid() || a.Net.Gateway.IsValid()
	}
	return false
}

// common is what of a befalls all units: the link of a card and the address that is kept
// for it are its own.
func common(a plan.Action) plan.Action {
	if a.Kind == plan.ActNetwork {
		n := *a.Net
		n.Offer, n.Link = netip.Prefix{}, nil
		a.Net = &n
	}
	return a
}

// noteOnce records what befalls all units, which the first of them tells.
func (s *Site) noteOnce(subject, text string) {
	if s.touch(); s.bond == nil || !s.bond.echo {
		s.note(subject, text)
	}
}

// toUnit carries out a command at the unit that it names.
func (s *Site) toUnit(c snap.Command) snap.Result {
	if c.Unit < 0 || c.Unit > len(s.others()) {
		return snap.Result{Status: snap.WrongValue, Reason: "the site has no such unit"}
	}
	return s.unit(c.Unit).do(c)
}

// takeOthers hands over what the further units have somebody outside do.
func (s *Site) takeOthers() {
	for _, u := range s.others() {
		u.keepWhatIsDue()
		for _, e := range u.effects {
			e.Unit = u.plan.Unit
			s.emit(e)
		}
		u.effects = u.effects[:0]
	}
}

// mixed sums up the signatures of the further units; two sums that differ are of
// sites that differ.
func mixed(sum uint64, sig Signature) uint64 {
	const prime = 1099511628211 // of the 64-bit FNV hash
	for _, x := range []uint64{sig.Unit, sig.Supply, sig.Groups} {
		sum = (sum ^ x) * prime
	}
	return sum
}
