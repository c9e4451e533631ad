package card

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Check says whether the assignment could be made now. handled is false for a
// variable that is not the card's.
func (c *Card) Check(a snap.Assignment) (r snap.Result, handled bool) {
	switch a.Var {
	case snap.VarSysContact, snap.VarSysName, snap.VarSysLocation:
		return fits(a.Text, 255), true
	case snap.VarIdentName, snap.VarAttachedDevices:
		return fits(a.Text, 63), true
	case snap.VarAuthenTraps:
		if a.Int != 1 && a.Int != 2 {
			return snap.Result{Status: snap.WrongValue, Reason: "1 is enabled, 2 is disabled"}, true
		}
	case snap.VarSnmpSetSerialNo:
		if a.Int != int64(c.setSerial) {
			return snap.Result{Status: snap.Inconsistent, Reason: fmt.Sprintf("the serial number is at %d", c.setSerial)}, true
		}
	default:
		return snap.Result{}, false
	}
	return snap.Result{}, true
}

// Apply makes an assignment that Check let pass. Names written over a surface
// are in force at once and kept.
func (c *Card) Apply(a snap.Assignment) {
	c.name(a)
	switch a.Var {
	case snap.VarSysContact, snap.VarSysName, snap.VarSysLocation, snap.VarIdentName, snap.VarAttachedDevices:
		c.note("card", fmt.Sprintf("%s %q", a.Var, a.Text))
		c.changed(&c.kept.Settings)
	case snap.VarAuthenTraps:
		c.kept.AuthenTraps = a.Int == 1
		c.changed(&c.kept.AuthenTraps)
		c.note("card", fmt.Sprintf("%s %d", a.Var, a.Int))
	case snap.VarSnmpSetSerialNo:
		c.setSerial = device.NextSpin(c.setSerial)
	}
}

// name writes a name into the settings, in force and kept. What was handed out
// never changes.
func (c *Card) name(a snap.Assignment) {
	now, kept := *c.inForce, *c.kept.Settings
	saved := &kept
	if c.kept.Settings == c.inForce {
		saved = &now
	}
	c.force(&now)
	c.kept.Settings = saved
	for _, s := range []*snap.Settings{&now, saved} {
		switch a.Var {
		case snap.VarSysContact:
			s.Contact = a.Text
		case snap.VarSysName:
			s.Name = a.Text
		case snap.VarSysLocation:
			s.Location = a.Text
		case snap.VarIdentName:
			s.UPSName = a.Text
		case snap.VarAttachedDevices:
			s.Attached = a.Text
		}
	}
}

// Save replaces what the card's memory holds. What needs no restart comes into
// force at once, the rest with the next restart. Settings that were made from
// others than the present ones are refused, or they would undo what somebody else
// has changed meanwhile; revision 0 is not looked at.
func (c *Card) Save(now vtime.Tick, by snap.Actor, s snap.Settings, revision uint64) snap.Result {
	if revision != 0 && revision != c.revision {
		return snap.Result{Status: snap.Inconsistent, Reason: "somebody else has changed settings just now: look at changes, and save again"}
	}
	if err := setting.Check(c.kept.Settings, &s); err != nil {
		return snap.Result{Status: snap.WrongValue, Reason: err.Error()}
	}
	if why := c.strangeSource(&s); why != "" {
		return snap.Result{Status: snap.WrongValue, Reason: why}
	}
	changes := setting.Diff(c.kept.Settings, &s)
	if !slices.Equal(c.kept.Settings.Alerting().Receivers, s.Alerting().Receivers) {
		c.held = 0 // another one may have that number now
	}
	c.kept.Settings = s.Clone()
	c.kept.Settings.Seal()
	c.changed(&c.kept.Settings)
	c.force(c.inForce.Clone()) // what was handed out never changes
	before := c.inForce.Time
	setting.TakeAtOnce(c.inForce, c.kept.Settings)
	c.clock.take(c.inForce.Zone, c.cfg)
	c.schedule.remake()
	if !reflect.DeepEqual(before, c.inForce.Time) {
		c.time.begin(now, &c.inForce.Time)
	}
	c.note("card", "settings saved by "+who(by))
	c.journal.add(now, "settings saved by "+who(by)+": "+named(changes))
	c.Hear(snap.EventSaved, 0, true, who(by)+": "+named(changes))
	return snap.Result{}
}

// Saved are the settings in the card's memory, to be looked at.
func (c *Card) Saved() *snap.Settings { return c.kept.Settings }

// named names what was changed, for the journal: never to what.
func named(changes []setting.Change) string {
	var names []string
	for i, c := range changes {
		if i == maxNamed {
			names = append(names, fmt.Sprintf("and %d more", len(changes)-i))
			break
		}
		names = append(names, c.Path)
	}
	if names == nil {
		return "nothing changed"
	}
	return strings.Join(names, ", ")
}

// maxNamed bounds how many changes a line of the journal names.
const maxNamed = 6

// fits says whether text is a DisplayString of at most limit characters.
func fits(text string, limit int) snap.Result {
	if why := snap.DisplayString(text, limit); why != "" {
		return snap.Result{Status: snap.WrongValue, Reason: why}
	}
	return snap.Result{}
}

// AuthFailed records an SNMP request with a wrong community, and issues the
// notification unless it was switched off (RFC 3418 snmpEnableAuthenTraps). from is an
// address. The journal gets the first of an address within a minute, and how many more.
func (c *Card) AuthFailed(now vtime.Tick, from string) {
	c.tellOff(now, "snmp", "wrong community", from, 1)
	c.Hear(snap.EventCommunity, 0, true, "from "+from)
	if c.kept.AuthenTraps && c.Running() {
		c.out.put(snap.Notification{Kind: snap.NotifyAuthFailure})
	}
}

// Unauthentic records a request of SNMPv3 that the card has not taken.
func (c *Card) Unauthentic(now vtime.Tick, f snap.USMFault, from string) {
	c.tellOff(now, "snmp", f.String(), from, 1)
}

// ServeDHCP has the site's address server come or go.
func (c *Card) ServeDHCP(on bool) { c.address.serve(on) }

// CutServer says whether a switch on the way to the address server is dead.
func (c *Card) CutServer(cut bool) { c.address.cutOff = cut }

// Route says whether the card hears of a router, for IPv6.
func (c *Card) Route(on bool) { c.address.route(on) }

// LoseLeases has so many percent of what is said about a lease get lost on the link.
func (c *Card) LoseLeases(percent float64) {
	c.address.loss = uint16(percent / 100 * (1<<16 - 1))
}

// LostLeases is how many messages about a lease were lost since the last call.
func (c *Card) LostLeases() (out, in uint32) {
	a := &c.address
	out, in, a.lost = uint32(a.lost[0]), uint32(a.lost[1]), [2]uint8{}
	return out, in
}

// ChangeNet is what happens on the card's network.
func (c *Card) ChangeNet(now vtime.Tick, n *plan.NetChange) {
	if n.Offer.IsValid() {
		c.address.offer = n.Offer
	}
	if n.Gateway.IsValid() {
		c.address.net.Gateway = n.Gateway
	}
	if n.Claim.IsValid() {
		c.address.claim(now, n.Claim)
	}
	if n.Release.IsValid() {
		c.address.release(n.Release)
	}
	if n.Router != "" {
		c.address.route(n.Router == "present")
	}
}

// Address is the card's network address at present, and whether its port has a
// link.
func (c *Card) Address() (a snap.Address, link bool) { return c.address.now, !c.address.noLink }

// Receivers are those of the settings in force.
func (c *Card) Receivers() []snap.Receiver { return c.Alerting().Receivers }

// Alerting is whom the card tells of what.
func (c *Card) Alerting() *snap.AlertSettings { return c.inForce.Alerting() }

// Renewals counts what became of a lease without a word in the trace.
func (c *Card) Renewals() int { return int(c.address.renewals) }

// Plug puts the network lead in or pulls it out. What the card has to tell waits
// until it is reached again (RFC 2863 linkDown, linkUp).
func (c *Card) Plug(now vtime.Tick, in bool) {
	if in == !c.address.noLink {
		return
	}
	c.address.noLink, c.address.since = !in, now
	c.note("card", "link "+snap.Either(in, "up", "down"))
	if !c.Running() {
		return
	}
	kind := snap.NotifyLinkDown
	if in {
		kind = snap.NotifyLinkUp
	}
	c.journal.add(now, "link "+snap.Either(in, "up", "down"))
	c.out.put(snap.Notification{Kind: kind})
	c.Hear(snap.EventLinkDown, 0, !in, "")
	c.address.lose()
	c.address.begin(now, c.inForce, c.clock.Stamp(now), c.kept.Lease)
}

// Tell issues a notification of what the card was told of: a group that was
// switched, a probe that passed a limit.
func (c *Card) Tell(n snap.Notification) {
	if c.Running() && c.cfg.Private {
		c.out.put(c.ranked(n))
	}
}

// Renumber drops what waits to be told of probes and contacts: the rows that it is
// about are others now.
func (c *Card) Renumber() {
	c.out.drop(func(n snap.Notification) bool {
		return n.Kind == snap.NotifyProbeAlert || n.Kind == snap.NotifyProbeBetter || n.Kind == snap.NotifyContact ||
			n.Kind == snap.NotifyRisen && n.Row > 0 && n.Event != snap.EventGroup
	})
}

// who names somebody for the audit.
func who(by snap.Actor) string { return by.Who() }
