package expect

import (
	"net/netip"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

var testNames = Names{Hosts: []string{"db", "web_1"}, Groups: []string{"rack_a", "rack_b"}}

// testSite has a value of its own in every field that a variable reads.
func testSite() *snap.Site {
	s := &snap.Site{
		Feed:      snap.Feed{Volts: 161.5, Hz: 49.75},
		Power:     snap.Power{OutputW: 811.25, LoadPct: 30.5},
		ChargePct: 71.125,
		Hosts: []snap.Host{
			{Name: "db", State: snap.HostStopping, Powered: true, Starts: 2, Stops: 3, Cuts: 4, DrawW: 410.5},
			{Name: "web_1", State: snap.HostCut, Ended: "cut", Starts: 5, Stops: 6, Cuts: 7, DrawW: 0.5},
		},
		Groups:    []snap.Group{{Name: "rack_a", On: true}, {Name: "rack_b"}},
		Policy:    snap.PolicyStopping,
		Sent:      snap.Sent{0, 11, 12, 13, 14, 15, 16, 17},
		Transfers: 21,
	}
	s.Device = snap.Device{
		Tick: 100 * vtime.Second,
		UPS: snap.UPS{Source: snap.SourceBattery, OutputOn: true, LineBads: 22,
			OnBatterySince: 60 * vtime.Second},
		Battery: snap.Battery{Status: snap.BatteryLow, RuntimeS: 270, ChargePct: 70.25, Volts: 72.5, Amps: 11.25, TempC: 26.5},
		Test:    snap.Test{ID: snap.TestQuickBattery, Result: snap.ResultWarning},
		Control: snap.Control{ShutdownAt: 130 * vtime.Second, StartupAt: vtime.Never, RebootUntil: 105 * vtime.Second},
		Card: snap.Card{State: snap.CardRunning, Boots: 23,
			Address: snap.Address{State: "leased", Prefix: netip.MustParsePrefix("192.0.2.10/24")}},
	}
	s.Alarms.Count = 2
	s.Alarms.Rows[0].Kind = snap.AlarmOnBattery
	s.Alarms.Rows[1].Kind = snap.AlarmLowBattery
	return s
}
