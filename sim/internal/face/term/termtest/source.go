package termtest

import (
	"net/netip"
	"slices"
	"sync"
	"time"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// The account of the card.
const (
	User     = "installer"
	Password = "correct horse"
)

// Source is a card at rest that does what it is told. It is safe for concurrent
// use.
type Source struct {
	mu       sync.Mutex
	dev      *snap.Device
	now      vtime.Tick
	commands []snap.Command
	sessions uint32       // begun so far
	next     *snap.Result // answers the next command instead of doing it
}

// New is a card that runs, with a leased address and settings from an invented
// site.
func New() *Source { return &Source{dev: device(), now: 90 * vtime.Second} }

// Device is the card's present state.
func (s *Source) Device() *snap.Device {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.dev
}

// Now is the present simulated time.
func (s *Source) Now() vtime.Tick {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now
}

// Submit records c and does it.
func (s *Source) Submit(c snap.Command) snap.Result {
	s.mu.Lock()
	s.commands = append(s.commands, c)
	next := s.next
	s.next = nil
	s.mu.Unlock()
	switch {
	case next != nil:
		return *next
	case c.Op == snap.OpSignIn:
		return s.signIn(c)
	case c.Op == snap.OpSignOut:
		s.Change(func(d *snap.Device) {
			d.Card.Sessions = slices.DeleteFunc(slices.Clone(d.Card.Sessions), func(x snap.Session) bool { return x.ID == c.By.Session })
		})
	case c.Op == snap.OpAccount:
		s.Change(func(d *snap.Device) { changeAccount(d, c) })
	case c.Op == snap.OpSave:
		s.Change(func(d *snap.Device) {
			d.Card.Saved = *c.Settings.Clone()
			d.Card.Saved.Seal()
			d.Card.Settings = *d.Card.Settings.Clone()
			setting.TakeAtOnce(&d.Card.Settings, &d.Card.Saved)
		})
	case c.Op == snap.OpSwitch:
		s.Change(func(d *snap.Device) { switchGroup(d, c) })
	case c.Op == snap.OpFirmwareLoad && c.Release != nil:
		s.Change(func(d *snap.Device) {
			f := *snap.FirstFirmware()
			*f.Spare() = snap.Slot{State: snap.SlotNew, Release: c.Release, Digest: c.Text}
			d.Card.Firmware = &f
		})
	case c.Op == snap.OpRestart || c.Op == snap.OpReset || c.Op == snap.OpFirmwareSwitch || c.Op == snap.OpFirmwareReturn:
		s.Change(func(d *snap.Device) { d.Card.State = snap.CardBooting })
	}
	return snap.Result{}
}

// signIn begins a session, as a card does that locks nobody out.
func (s *Source) signIn(c snap.Command) (r snap.Result) {
	if !c.OK {
		return snap.Result{Status: snap.Denied, Reason: "user name or password is wrong"}
	}
	s.Change(func(d *snap.Device) {
		s.sessions++
		x := snap.Session{ID: s.sessions, User: c.By.User, Role: c.By.Role, Surface: c.By.Surface, Peer: c.By.Peer, Authority: snap.Authority(c.Text), Since: s.now}
		if a := d.Card.Account(c.By.User); a != nil {
			x.Role, x.MustChange = a.Role, a.MustChange
		}
		d.Card.Sessions = append(slices.Clip(d.Card.Sessions), x)
		r = snap.Result{Session: x.ID, Role: x.Role}
	})
	return r
}

func changeAccount(d *snap.Device, c snap.Command) {
	list := slices.Clone(d.Card.Accounts)
	at := slices.IndexFunc(list, func(a snap.Account) bool { return a.User == c.Account.User })
	switch c.Text {
	case snap.AccountAdd:
		list = append(list, *c.Account)
	case snap.AccountRemove:
		list = slices.Delete(list, at, at+1)
	case snap.AccountRole:
		list[at].Role = c.Account.Role
	case snap.AccountPassword:
		role := list[at].Role
		list[at] = *c.Account
		list[at].Role = role
		d.Card.Sessions = slices.Clone(d.Card.Sessions)
		for i := range d.Card.Sessions {
			d.Card.Sessions[i].MustChange = false
		}
	}
	d.Card.Accounts = list
}

// switchGroup does as ordered, without any delay.
func switchGroup(d *snap.Device, c snap.Command) {
	for i, g := range d.Outlets.Roster.Groups {
		if g.Name != c.Group {
			continue
		}
		d.Outlets.Live |= 1 << i
		d.Outlets.Held &^= 1 << i
		if c.Text != "on" {
			d.Outlets.Live &^= 1 << i
			d.Outlets.Held |= 1 << i
			d.Outlets.LoadW[i] = 0
		}
		if c.Text == "cycle" {
			d.Outlets.Turning |= 1 << i
		}
	}
}

// Change publishes a changed copy of the state.
func (s *Source) Change(f func(*snap.Device)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	d := *s.dev
	f(&d)
	s.dev = &d
}

// Refuse has the next command answered with r.
func (s *Source) Refuse(r snap.Result) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.next = &r
}

// Advance lets time pass.
func (s *Source) Advance(t vtime.Tick) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.now += t
}

// Commands are those submitted so far.
func (s *Source) Commands() []snap.Command {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]snap.Command(nil), s.commands...)
}

// OnBattery makes the mains fail at the present time.
func (s *Source) OnBattery() {
	now := s.Now()
	s.Change(func(d *snap.Device) {
		d.UPS.Source, d.UPS.OnBatterySince = snap.SourceBattery, now
		d.Battery.Volts, d.Battery.Amps = 73.42, 16.1
		d.Input.Lines[0] = snap.Line{}
		d.Alarms = snap.Alarms{Count: 2, Rows: [snap.AlarmKinds]snap.Alarm{
			{ID: 1, Kind: snap.AlarmOnBattery, Since: now},
			{ID: 2, Kind: snap.AlarmInputBad, Before: true},
		}}
		d.Control.ShutdownAt = now + 3*vtime.Minute
		d.Card.Journal = append(d.Card.Journal[:len(d.Card.Journal):len(d.Card.Journal)],
			snap.JournalEntry{Seq: 3, Tick: now, At: d.Card.Clock.Stamp(now), Text: "The mains failed: on battery"})
	})
}

// start is the date at tick 0.
var start = time.Date(2026, 3, 2, 7, 55, 0, 0, time.FixedZone("", 3600))

// device holds invented values.
func device() *snap.Device {
	settings := snap.Settings{
		Name: "card-a", Location: "Room 2, rack 4", Contact: "building desk",
		UPSName: "ups-a", Attached: "two servers",
		Time: snap.DefaultTime(), Mode: snap.AddressDHCP, ReadCommunity: snap.NewSecret("see-nothing"),
	}
	front, switches := snap.FreshGroup("front"), snap.FreshGroup("switches")
	front.Label, front.Hosts, front.ShedAfter, front.OnDelay = "rack 4 front", "mail, files", 10*vtime.Minute, 10*vtime.Second
	switches.Hosts, switches.ControlPath = "switch", true
	settings.Groups = []snap.OutletGroup{front, switches}
	factory := snap.NewAccount("factory", snap.Administrator, "on-the-label", []byte("salt of the card"))
	return &snap.Device{
		Tick: vtime.Minute,
		Card: snap.Card{
			Clock: snap.Clock{Shown: snap.StampOf(start), Set: true, From: "factory", Zone: start.Location()},
			State: snap.CardRunning, StartedAt: 10 * vtime.Second, Boots: 1,
			Identity: snap.Identity{SerialNumber: "EX-000123", Model: "Example card", Firmware: "1.0", Hardware: "00-00-5E-00-53-0A"},
			Settings: settings, Saved: settings,
			Address:  snap.Address{State: "leased", Prefix: netip.MustParsePrefix("192.0.2.40/24"), Gateway: netip.MustParseAddr("192.0.2.1")},
			Accounts: []snap.Account{snap.NewAccount(User, snap.Administrator, Password, []byte("salt"))},
			Factory:  &factory,
			Journal: []snap.JournalEntry{
				{Seq: 1, Tick: 10 * vtime.Second, At: snap.StampOf(start) + 10_000, Text: "Card started"},
				{Seq: 2, Tick: 12 * vtime.Second, At: snap.StampOf(start) + 12_000, Text: "Address 192.0.2.40/24 leased"},
			},
		},
		UPS:     snap.UPS{Manufacturer: "Example", Model: "3 kVA", Firmware: "2.1", Source: snap.SourceNormal, OutputOn: true, SystemOn: true, OnBatterySince: vtime.Never, LineBads: 1},
		Battery: snap.Battery{Status: snap.BatteryNormal, RuntimeS: 1025, ChargePct: 99.6, Volts: 81.64, Amps: -0.2, TempC: 21.4},
		Input:   snap.Lines{Count: 1, Frequency: 50.02, Lines: [3]snap.Line{{Volts: 229.6, Amps: 5.4, Watts: 1172}}},
		Output:  snap.Lines{Count: 1, Frequency: 50, Lines: [3]snap.Line{{Volts: 230.1, Amps: 5.22, Watts: 1080, LoadPct: 40}}},
		Outlets: snap.Outlets{
			Roster: &snap.Roster{
				Groups: []snap.RosterGroup{
					{Name: "front", Label: front.Label, Hosts: front.Hosts, OnDelay: front.OnDelay, OffDelay: front.OffDelay},
					{Name: "switches", Hosts: switches.Hosts, OffDelay: switches.OffDelay},
				},
				Hosts: []snap.RosterHost{
					{Name: "mail", Fed: "front", Groups: 1, Supplies: 1}, {Name: "files", Fed: "front", Groups: 1, Supplies: 1},
					{Name: "switch", Fed: "switches", Groups: 2, Supplies: 1},
				},
			},
			Live: 3, LoadW: [snap.MaxGroups]float32{1040, 40}, TurnsAt: vtime.Never,
		},
		Control: snap.Control{ShutdownType: 1, ShutdownAt: vtime.Never, StartupAt: vtime.Never, RebootUntil: vtime.Never},
	}
}

// TimeServers is what the card makes of its time servers at now.
func TimeServers(now vtime.Tick) *snap.TimeState {
	return &snap.TimeState{NextAt: now + 10*vtime.Minute, Checked: now - 5*vtime.Minute, Servers: []snap.TimeServerState{
		{TimeServer: snap.TimeServer{Name: "a", Address: netip.MustParseAddr("192.0.2.7")}, Trust: snap.TrustTaken, Off: -12},
		{TimeServer: snap.TimeServer{Name: "b", Address: netip.MustParseAddr("198.51.100.7")}, Trust: snap.TrustRejected, Off: vtime.Hour, Reason: "the servers disagree"},
		{TimeServer: snap.TimeServer{Name: "c"}, Trust: snap.TrustSilent, Reason: "no answer"},
	}}
}
