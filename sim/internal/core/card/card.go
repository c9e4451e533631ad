package card

import (
	"encoding/base32"
	"fmt"
	"net/netip"
	"strings"
	"time"

	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Card is one network card. It is not safe for concurrent use.
type Card struct {
	cfg  *plan.Card
	seed uint64
	says device.Note

	// Small ones stand together: a fleet has thousands of cards.
	state     snap.CardState
	test      snap.TestResult // when it last looked; kept over a restart
	warm      bool            // the settings did not change over the running restart
	stirred   bool            // something changed that nobody notes
	unseated  bool            // in its slot, where its contacts do not meet those of the unit
	onBattery bool            // as it saw it last, in the table of alarms or not
	boots     uint32
	setSerial int32
	unlisted  device.Conditions // present, but kept out of the table by a quirk
	startedAt vtime.Tick
	runningAt vtime.Tick

	clock    clock
	time     timekeeper
	schedule *scheduler // nil until there is a schedule
	queries  []snap.TimeQuery
	kept     Memory
	changes  changes
	revision uint64         // of kept.Settings
	inForce  *snap.Settings // never changed in place: cards share it

	address  addressing
	unit     unitLink
	bootAt   vtime.Tick // when it began to boot
	table    alarmTable
	out      outbox
	journal  journal
	updating updating
	quirks   *quirks
	logins   rare[logins]
	expiring rare[expiring]
	factory  *snap.Account // the login on the label
	alerts   alerting
	data     *dataLog // nil until something is to be logged
	// energyKept is when the meters were last written down.
	energyKept vtime.Tick
	opened     opened
	relays     *relays       // nil: none was ever set
	turned     []turned      // away by the access list, a few
	hostKey    *snap.HostKey // never changed in place; nil: nothing of note
	held       uint8         // receivers to which nothing leaves, a bit each, as it was told

	elsewhere func(netip.Addr) bool // another card of the site has that address; nil: there is none
}

// New is a card that starts its agent at tick 0, which is at start. Its factory
// password derives from seed and serial number; see [Password]. What it has kept
// from before, cfg.Memory, must have passed [CheckMemory].
func New(cfg *plan.Card, net *plan.Network, seed uint64, start time.Time, note device.Note) *Card {
	c := &Card{
		cfg: cfg, says: note, seed: seed,
		setSerial: 1,
		out:       newOutbox(),
		quirks:    newQuirks(cfg, seed),
		test:      snap.ResultNone,
	}
	c.clock, c.time = newClock(cfg, start), newTimekeeper()
	c.journal.clock = &c.clock.Clock
	c.factory = c.label()
	c.address = c.newAddressing(net)
	c.recall()
	c.revision = 1
	c.recallPosts()
	c.takeForce()
	c.clock.take(c.inForce.Zone, cfg)
	return c
}

// note reports what nobody decides by.
func (c *Card) note(subject, text string) { c.says(snap.What{}, subject, text) }

// takeForce has what the memory holds come into force.
func (c *Card) takeForce() {
	c.force(c.kept.Settings)
}

// force brings s into force, which is never changed after that.
func (c *Card) force(s *snap.Settings) { c.inForce, c.journal.settings = s, s }

// fresh is the memory of a card from the factory, put up as the scenario says.
func (c *Card) fresh() Memory {
	serial := c.cfg.Identity.SerialNumber
	m := Memory{SerialNumber: serial, Settings: &c.cfg.Settings, AuthenTraps: true, Firmware: snap.FirstFirmware()}
	if c.factory != nil {
		m.Accounts = append([]snap.Account{*c.factory}, c.named()...)
	}
	return m
}

// label is the account of the factory login, nil without one.
func (c *Card) label() *snap.Account {
	if c.cfg.NoLogin {
		return nil
	}
	serial := c.cfg.Identity.SerialNumber
	salt := rng.Key(c.seed, "salt/"+serial)
	a := snap.NewAccount(c.cfg.User, snap.Administrator, Password(c.seed, serial), salt[:16])
	a.Label, a.MustChange = true, c.cfg.MustChange
	return &a
}

// named are the accounts that the card comes with beside that.
func (c *Card) named() (list []snap.Account) {
	for _, n := range c.cfg.Accounts {
		salt := rng.Key(c.seed, "salt/"+c.cfg.Identity.SerialNumber+"/"+n.User)
		a := snap.NewAccount(n.User, n.Role, n.Password, salt[:16])
		a.Set = n.Set
		list = append(list, a)
	}
	return list
}

// Password is the factory password on the label of the card with that serial
// number: 12 letters and digits, different for every seed and every card.
func Password(seed uint64, serial string) string {
	return spelt(rng.Key(seed, "label/"+serial))
}

// NamedPassword is the password that a scenario's account of that user has if it
// gives none.
func NamedPassword(seed uint64, serial, user string) string {
	return spelt(rng.Key(seed, "account/"+serial+"/"+user))
}

func spelt(key [32]byte) string {
	text := strings.ToLower(base32.StdEncoding.EncodeToString(key[:]))
	return text[:4] + "-" + text[4:8] + "-" + text[8:12]
}

// Running says whether the card's surfaces answer.
func (c *Card) Running() bool { return c.state == snap.CardRunning }

// Reachable says whether its network surfaces answer.
func (c *Card) Reachable() bool { return c.Running() && c.address.now.Reachable() }

// Start runs the agent at tick 0, as a card that has long been up.
func (c *Card) Start() {
	if c.address.real != nil {
		c.note("card", "real address servers are asked")
	}
	c.raiseBoots()
	c.passes(0)
	c.begin(0, 0)
}

// Power gives the card its supply or takes it away.
func (c *Card) Power(now vtime.Tick, on bool) {
	switch {
	case c.state == snap.CardAbsent || c.unseated:
	case on && c.state == snap.CardOff:
		c.clock.supplied(now)
		c.KeepClock(now)
		c.boot(now)
	case !on && c.state != snap.CardOff:
		c.note("card", "off: no supply")
		c.halt(now, snap.CardOff)
	}
}

// Restart begins a restart; nothing answers until the card has booted.
func (c *Card) Restart(now vtime.Tick) {
	if c.state == snap.CardOff || c.state == snap.CardAbsent {
		return
	}
	c.journal.add(now, "card restarts")
	c.hearLast(now, snap.EventRestart, "")
	c.stop()
	c.boot(now)
	c.warm = c.kept.Settings.Same(c.inForce)
}

func (c *Card) boot(now vtime.Tick) {
	c.state = snap.CardBooting
	c.warm = false
	c.raiseBoots()
	c.bootAt, c.runningAt = now, now+c.bootTakes()
	c.says(snap.What{Kind: snap.WhatCardBoots}, "card", fmt.Sprintf("booting until %s", c.runningAt))
}

func (c *Card) stop() {
	c.time.askAt, c.time.endAt = vtime.Never, vtime.Never
	c.address.lose()
	c.table, c.onBattery = alarmTable{}, false
	c.out = newOutbox().carrying(c.out.sent)
	c.end(func(*snap.Session) bool { return true })
	c.forgetIncidents()
}

// begin starts the agent: settings come into force, the alarm table is empty,
// the conditions that are there already are older than the agent.
func (c *Card) begin(now vtime.Tick, conditions device.Conditions) {
	c.state = snap.CardRunning
	c.startedAt = now
	c.boots = c.kept.Boots
	c.takeForce()
	c.clock.take(c.inForce.Zone, c.cfg)
	c.address.begin(now, c.inForce, c.clock.Stamp(now), c.kept.Lease)
	c.time.begin(now, &c.inForce.Time)
	c.schedule.remake()
	c.missSample()
	c.note("card", fmt.Sprintf("running, start %d", c.boots))
	c.forgetJournals(now)
	c.journal.add(now, "card started")
	kind := snap.NotifyColdStart
	if c.warm {
		kind = snap.NotifyWarmStart
	}
	c.out.put(snap.Notification{Kind: kind})
	c.findUnit(now)
	if c.unit.up {
		c.table.rebuild(conditions)
	} else {
		c.table.rebuild(0)
	}
	c.alerts.digestAt, c.alerts.digestFrom = now, c.journal.seq
	c.Hear(snap.EventStarted, 0, true, fmt.Sprintf("start %d", c.boots))
	c.hearFailed()
}

// Deadline is the next instant after now at which the card itself will act.
func (c *Card) Deadline(now vtime.Tick) vtime.Tick {
	if c.state == snap.CardBooting {
		return c.runningAt
	}
	if !c.Running() {
		return c.runningAt // of a card that hangs: the watchdog; else never
	}
	next := min(c.address.deadline(), c.unit.upAt)
	if u := c.updating.upload; u != nil {
		next = min(next, u.Until)
	}
	if c.address.now.Reachable() {
		next = min(next, c.out.deadline(now), c.flushes(now))
	}
	return min(next, c.out.repeatAt, c.turnedDue(), c.loginsDue(), c.alertDeadline(now), c.time.deadline(), c.schedule.due(), c.data.deadline(), c.expiryDue(now), c.relays.deadline(now))
}

// State is what the card reads of its UPS when it looks.
type State struct {
	Conditions device.Conditions
	Test       snap.TestResult
	Source     snap.OutputSource
}

// Due performs all that has fallen due at now and reports whether the agent has
// just started. Notifications that may leave go to send.
func (c *Card) Due(now vtime.Tick, ups State, send func(snap.Notification)) (started bool) {
	c.dueUpload(now)
	c.bark(now)
	if c.state == snap.CardBooting && c.runningAt <= now {
		if !c.passes(now) {
			c.boot(now)
			c.driveRelays(now, 0)
			return false
		}
		c.begin(now, ups.Conditions)
		started = true
	}
	if !c.Running() {
		c.driveRelays(now, 0)
		return started
	}
	c.address.due(now, c.clock.Stamp(now))
	if c.loginsDue() <= now {
		c.summarise(now)
	}
	c.tellTurned(now)
	c.keepTime(now)
	c.follow(now)
	c.planSamples(now)
	seen := c.look(now, ups)
	c.driveRelays(now, seen.Conditions)
	c.watch(now, seen, started)
	if c.address.now.Reachable() {
		c.flushFree(now, send)
	}
	c.agePasswords(now)
	c.warnOfExpiry(now)
	c.alertDue(now, seen)
	return started
}

// watch keeps the alarm table and issues what its changes call for.
func (c *Card) watch(now vtime.Tick, ups State, started bool) {
	on := ups.Conditions.Has(snap.AlarmOnBattery)
	first := on && (started || !c.onBattery)
	if c.onBattery = on; first {
		c.out.repeatAt = now
	}
	c.table.update(now, c.listed(now, ups.Conditions), started, func(n snap.Notification, added bool) {
		c.journal.addAlarm(now, n.Alarm, added)
		c.noteAlarm(n, added)
		if added || !c.keepsBack(now, snap.QuirkNoAllClear) {
			c.out.put(c.ranked(n))
		}
	})
	if !on {
		c.out.repeatAt = vtime.Never
	}
	if c.out.repeatAt <= now { // once a minute until no longer on battery (RFC 1628 upsTrapOnBattery)
		if first || !c.keepsBack(now, snap.QuirkOnBatteryOnce) {
			c.out.put(snap.Notification{Kind: snap.NotifyOnBattery})
		}
		c.out.repeatAt = now + vtime.Minute
	}
	if c.test == snap.ResultInProgress && ups.Test != snap.ResultInProgress {
		c.journal.event(now, "test completed: "+ups.Test.String())
		c.Hear(snap.EventTestEnded, 0, true, ups.Test.String())
		if c.inForce.Conformance != snap.ConformSubset { // there the test group is absent, and all that it carries
			c.out.put(snap.Notification{Kind: snap.NotifyTestCompleted})
		}
	}
	c.test = ups.Test
}

func (c *Card) noteAlarm(n snap.Notification, added bool) {
	what, word := snap.What{Kind: snap.WhatAlarmCleared, Alarm: n.Alarm}, "cleared"
	if added {
		what.Kind, word = snap.WhatAlarmRaised, "raised"
	}
	c.says(what, "alarm", n.Alarm.String()+" "+word)
}

// View writes the card's part of d.
func (c *Card) View(d *snap.Device) {
	logins := c.logins.get()
	d.Card = snap.Card{
		State: c.state, StartedAt: c.startedAt, BootAt: c.bootAt, RunningAt: c.runningAt, Boots: c.boots,
		UnitLost: !c.HasUnit(), UnitBlank: !c.HasUnit() && c.blanks(), UnitSince: c.unit.since, Clock: c.clock.Clock, Time: c.time.state, Schedule: c.schedule.shown(),
		Identity: c.cfg.Identity, Settings: *c.inForce, Saved: *c.kept.Settings, Revision: c.revision, Address: c.address.all(), Access: c.access(),
		Quirks: c.Quirks(), Accounts: c.kept.Accounts, Factory: c.factory, Sessions: logins.sessions, Lockouts: logins.lockouts, Journal: c.journal.entries, Lost: c.journal.lost(), Data: c.data.view(),
		AuthenTraps: c.kept.AuthenTraps, SetSerialNo: c.setSerial,
		LinkDown: c.address.noLink, LinkSince: c.address.since, Posts: c.postOffice(), Relays: c.relays.view(),
	}
	if c.hasTerms() {
		d.Card.Terms = c.terms()
	}
	c.viewFirmware(&d.Card)
	d.Alarms = c.table.view()
}

// Sent counts the notifications that have left.
func (c *Card) Sent() snap.Sent { return c.out.sent }
