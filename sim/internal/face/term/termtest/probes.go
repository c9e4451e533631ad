package termtest

import "ridethrough/sim/internal/core/snap"

// Probes gives the card two probes, one of them not paired, a lost one, and a
// contact. The figures are invented.
func Probes(d *snap.Device) {
	set := d.Card.Saved.Clone()
	set.Surroundings = snap.Surroundings{
		Probes: []snap.ProbeSetting{
			{Name: "inlet", ID: "1f2e3d4c", Position: "rack 2, front", Unit: snap.Fahrenheit, Temp: snap.NoLimits(1), Humid: snap.NoLimits(3), Rise: snap.NoLimit()},
			{Name: "aisle", ID: "00c0ffee", Unit: snap.Celsius, Temp: snap.NoLimits(1), Humid: snap.NoLimits(3), Rise: snap.NoLimit()},
		},
		Contacts: []snap.ContactSetting{{Name: "door", Probe: "inlet", Input: 1, Rests: snap.RestsClosed, DebounceMS: 50, Severity: snap.Info}},
	}
	d.Card.Saved, d.Card.Settings = *set, *set.Clone()
	d.Probes = snap.Probes{Count: 2, Sockets: [snap.MaxProbes]string{"1f2e3d4c", "aabbccdd"}, List: [snap.MaxProbes]snap.Probe{
		{Name: "inlet", State: snap.ProbeWarn, Temp: snap.ProbeWarn, TempC: 30.5, HasHumidity: true, HumidityPct: 41, RiseK: 2.5, Socket: 1},
		{Name: "aisle", State: snap.ProbeLost, TempC: 22, Socket: 3},
	}}
	roster := snap.Roster{}
	if d.Outlets.Roster != nil {
		roster = *d.Outlets.Roster
	}
	roster.Contacts = []snap.RosterContact{{ContactSetting: set.Surroundings.Contacts[0]}}
	d.Outlets.Roster = &roster
	d.Contacts[0] = snap.ContactActive
}
