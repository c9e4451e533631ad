package expect

import (
	"net/netip"
	"slices"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

var testNames = Names{Hosts: []string{"db", "web_1"}, Groups: []string{"rack_a", "rack_b"}, Probes: []string{"inlet"}, Contacts: []string{"door"}, Peers: []string{"desk"}, Switches: []string{"access"}}

// testSite has a value of its own in every field that a variable reads.
func testSite() *snap.Site {
	s := &snap.Site{
		Feed: snap.Feed{Volts: 161.5, Hz: 49.75, Bad: [3]bool{true, false, true}},

		Start:   testStart,
		SignIns: snap.SignIns{Accepted: 3, Refused: 4, Fallback: 1, Lockouts: 2, Unattended: 7, Last: snap.SignInNoAnswer, Took: 6 * vtime.Second},

		HoldsOff:   true,
		PeakPct:    88.5,
		BypassFeed: snap.BypassFeed{Volts: 228.5, Hz: 50.25},
		UnitC:      41.25, LongestGap: 18,
		Supply:    snap.Supply{Switch: snap.OnGenerator, Generator: snap.GeneratorRunning, Events: 31, NotBorne: 32, LoadPct: 87.5},
		Room:      snap.Room{TempC: 33.5, HumidityPct: 34.25, HeatW: 2035.5, CoolingW: 1036.5},
		Power:     snap.Power{OutputW: 811.25, LoadPct: 30.5, StrainPct: 12.5},
		ChargePct: 71.125, TrueRuntimeS: 165, HealthPct: 83.5,
		Hosts: []snap.Host{
			{Name: "db", State: snap.HostStopping, Powered: true, Starts: 2, Stops: 3, Cuts: 4, DrawW: 410.5, Refused: 2},
			{Name: "web_1", State: snap.HostCut, Ended: "cut", Starts: 5, Stops: 6, Cuts: 7, DrawW: 0.5, Channel: snap.ChannelRejects, Refused: 5},
		},
		Groups: []snap.Group{{Name: "rack_a", On: true}, {Name: "rack_b", LoadW: 0.5, OffAt: 89 * vtime.Second, Cause: snap.CauseShed, Right: true}},
		Policy: snap.PolicyStopping, Shutdowns: 2, Called: true,
		Monitor:   &snap.Monitor{OnBattery: true, OutOfStep: true, TicketOpen: true, Alerts: 81, ContactAlerts: 82, LowAlerts: 83, Answered: 84, Unanswered: 85, Tickets: 86, Events: 87, Restarts: 91, LineFailures: 92, OthersLate: 88500},
		Sent:      snap.Sent{0, 11, 12, 13, 14, 15, 16, 17},
		Acked:     snap.Sent{0, 21, 22, 23, 24, 25, 26, 27},
		Unacked:   snap.Sent{0, 31, 32, 33, 34, 35, 36, 37},
		Transfers: 21,
		Sinks:     []snap.Sink{{Count: 95, Last: 96 * vtime.Second, Refused: 97, Lost: 98, Repeats: 99, Matched: []int{94}}},
		Warned:    62,
		Posts: &snap.Posts{Risen: 61, Mail: posted(41), Syslog: posted(51), To: map[string]snap.PostCount{
			"mail/NAME": posted(61), "syslog/NAME": posted(71),
		}},
	}
	s.Device = snap.Device{
		Tick:    100 * vtime.Second,
		Energy:  &snap.Energy{At: 10 * vtime.Second, Groups: []snap.Meter{{W: 360, Sum: 5, Zero: 1, Past: []snap.EnergyMark{{}}}}}, // 5 + 9 Wh so far
		Outlets: snap.Outlets{Locked: true, Roster: &snap.Roster{Hosts: []snap.RosterHost{{Groups: 1}, {Groups: 2}}}},
		UPS: snap.UPS{Source: snap.SourceBattery, OutputOn: true, AwaitsCharge: true, LineBads: 22,
			OnBatterySince: 60 * vtime.Second, BypassGood: true, HighEfficiency: true},
		Input:   snap.Lines{Count: 2},
		Output:  snap.Lines{Count: 2, Frequency: 49.5, Lines: [3]snap.Line{{Volts: 231}, {Volts: 229.5}, {Volts: 1}}},
		Battery: snap.Battery{Status: snap.BatteryLow, RuntimeS: 270, ChargePct: 70.25, Volts: 72.5, Amps: 11.25, TempC: 26.5, HealthPct: 91.75},
		Test:    snap.Test{ID: snap.TestQuickBattery, Result: snap.ResultWarning},
		Control: snap.Control{ShutdownAt: 130 * vtime.Second, StartupAt: vtime.Never, RebootUntil: 105 * vtime.Second},
		Card: snap.Card{State: snap.CardRunning, Boots: 23,
			Lost:     [snap.JournalKinds]uint32{snap.JournalEvents: 27, snap.JournalSystem: 28},
			Relays:   &snap.Relays{{Closed: true, Turns: 91}, {Alarm: true, Turns: 92}, {Closed: true, Turns: 93}, {Alarm: true, Turns: 94}},
			Data:     &snap.DataLog{Samples: slices.Repeat([]snap.Sample{{InputV: [3]int32{1923, 1924, 1925}}}, 29)},
			USM:      &snap.USMStats{0, 501, 502, 503, 504, 505, 506},
			HostKey:  &snap.HostKey{Changes: 31},
			Firmware: &snap.Firmware{Slots: [2]snap.Slot{{State: snap.SlotFailed}, {State: snap.SlotGood, Release: &snap.Release{NewEngine: true}}}, Running: 1, Trying: true, Loads: 24, Refusals: 25, Returns: 26},
			Upload:   &snap.Upload{}, Accounts: []snap.Account{{User: "a"}, {User: "b", Label: true}},
			Clock: testClock(), Schedule: &snap.ScheduleState{Waits: true, Warnings: 41, Offs: 42, Ons: 43, Tests: 46}, Time: &snap.TimeState{Servers: []snap.TimeServerState{{Trust: snap.TrustTaken}, {Trust: snap.TrustAgrees}, {Trust: snap.TrustSilent}}},
			Address: snap.Address{State: "leased", Prefix: netip.MustParsePrefix("192.0.2.10/24")}},
	}
	s.Probes.Count = 1
	s.Contacts[0] = snap.ContactActive
	s.Net.Peers = []snap.PeerPath{{Fault: snap.PathNoGateway, Heard: 57}}
	s.Net.Lost, s.Net.Duplex, s.Net.VLAN = 33, true, true
	s.Card.Port = &snap.Port{Mode: snap.Link10Half, Mbit: 10, Half: true, InErrors: 34, OutErrors: 36, LateCollisions: 35}
	s.Net.Switches = []snap.SwitchState{snap.SwitchStarting}
	s.Card.Address.Gateway = netip.MustParseAddr("192.0.2.1")
	s.Card.Address.Lease = snap.Lease{Until: 200 * vtime.Second, Overdue: 58}
	s.Card.Address.V6State, s.Card.Address.V6 = "auto", netip.MustParsePrefix("2001:db8::9/64")
	s.Outlets.Roster.Contacts = []snap.RosterContact{{ContactSetting: snap.ContactSetting{Name: "door"}}}
	s.Probes.List[0] = snap.Probe{Name: "inlet", State: snap.ProbeWarn, TempC: 37.5, HumidityPct: 38, RiseK: 3.5, Socket: 24, Alerts: 26, Clears: 27}
	s.Alarms.Count = 2
	s.Alarms.Rows[0].Kind = snap.AlarmOnBattery
	s.Alarms.Rows[1].Kind = snap.AlarmLowBattery
	s.Card.Sessions, s.Card.Accounts = make([]snap.Session, 1), []snap.Account{{User: "technician", Label: true}}
	return s
}

func posted(n int) snap.PostCount {
	return snap.PostCount{
		Made: n, Sent: n + 1, Delivered: n + 2, Waiting: n + 3, Clears: n + 4, Late: n + 5, Rejected: n + 6, Expired: n + 7, Dropped: n + 8, Lost: n + 9,
	}
}

// testStart is the true date of tick 0; the card's clock is 42.25 s ahead of it.
var testStart = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

func testClock() snap.Clock { return snap.Clock{Shown: snap.StampOf(testStart) + 42_250, Set: true} }
