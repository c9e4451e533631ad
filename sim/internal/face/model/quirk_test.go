package model

import (
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
)

// TestObjectsOfQuirks: what quirks can touch is RFC 1628 as the table has it.
func TestObjectsOfQuirks(t *testing.T) {
	listed := 0
	for _, o := range snap.Objects() {
		x, ok := Find(o.Name)
		if !ok || x.Access == NotAccessible || string(x.Group) != o.Group {
			t.Errorf("%s of %s: %+v", o.Name, o.Group, x)
			continue
		}
		text := x.Syntax.Tag == ber.OctetString || x.Syntax.Tag == ber.ObjectID
		if coded := len(x.Syntax.Enums) > 0; coded != (o.Kind == snap.Coded) || text != (o.Kind == snap.Worded) {
			t.Errorf("%s: kind %d, syntax %v", o.Name, o.Kind, x.Syntax)
		}
		listed++
	}
	for _, x := range All() {
		if x.OID.HasPrefix(ups()) && x.Access != NotAccessible {
			listed--
		}
	}
	if listed != 0 {
		t.Errorf("%d objects too many or too few", listed)
	}
}

// odd is a view of a card with one quirk.
func odd(q snap.Quirk) *View {
	d := device()
	d.Card.Quirks = (&snap.Quirks{Seed: 1, Serial: "S-1"}).With(q)
	return &View{Dev: d, Now: 100*vtime.Second + 999, Quirks: d.Card.Quirks, Dice: new(Dice)}
}

func TestOddNumbers(t *testing.T) {
	past := device()
	past.Tick, past.Battery.Volts = 50*vtime.Second, 70
	for _, tt := range []struct {
		quirk snap.Quirk
		name  string
		want  int64
	}{
		{snap.Quirk{Kind: snap.QuirkScaledUp, Objects: []string{"upsBatteryVoltage"}}, "upsBatteryVoltage", 8160},
		{snap.Quirk{Kind: snap.QuirkScaledUp, Objects: []string{"upsBatteryVoltage"}}, "upsBatteryTemperature", 25},
		{snap.Quirk{Kind: snap.QuirkScaledDown, Objects: []string{"upsBatteryVoltage"}}, "upsBatteryVoltage", 81},
		{snap.Quirk{Kind: snap.QuirkRuntimeInSeconds}, snap.ObjectRuntime, 1079},
		{snap.Quirk{Kind: snap.QuirkRuntimeZero}, snap.ObjectRuntime, 0},
		{snap.Quirk{Kind: snap.QuirkRuntimeMinusOne}, snap.ObjectRuntime, -1},
		{snap.Quirk{Kind: snap.QuirkConstant, Objects: []string{"upsAlarmsPresent"}, Value: -5}, "upsAlarmsPresent", 0}, // a Gauge32
		{snap.Quirk{Kind: snap.QuirkUnknownCode, Objects: []string{"upsOutputSource"}}, "upsOutputSource", 8},
		{snap.Quirk{Kind: snap.QuirkUnknownCode, Objects: []string{"upsBatteryStatus"}, Value: 77}, "upsBatteryStatus", 77},
		{snap.Quirk{Kind: snap.QuirkStale, Objects: []string{"upsBatteryVoltage"}, Held: past}, "upsBatteryVoltage", 700},
		{snap.Quirk{Kind: snap.QuirkFrozen, Objects: []string{"upsSecondsOnBattery"}, Held: past}, "upsSecondsOnBattery", 9},
		{snap.Quirk{Kind: snap.QuirkFrozen, Objects: []string{"upsSecondsOnBattery"}, Held: past}, "upsBatteryVoltage", 816},
		{snap.Quirk{Kind: snap.QuirkUptimeNearWrap, Lasts: vtime.Minute}, "sysUpTime", 9099 - 6000},
		{snap.Quirk{Kind: snap.QuirkUptimeNearWrap, Lasts: 10 * vtime.Minute}, "sysUpTime", 1<<32 + 9099 - 60000},
		{snap.Quirk{Kind: snap.QuirkHalfAwake, Lasts: 2 * vtime.Minute}, "upsOutputNumLines", 0},
		{snap.Quirk{Kind: snap.QuirkHalfAwake, Lasts: vtime.Minute}, "upsOutputNumLines", 1},
	} {
		v := odd(tt.quirk)
		if got := Lookup(tt.name).At(v, 0).Int; got != tt.want {
			t.Errorf("%v: %s is %d, want %d", tt.quirk.Kind, tt.name, got, tt.want)
		}
		plain := View{Dev: v.Dev, Now: v.Now}
		if changed := Lookup(tt.name).At(&plain, 0).Int != tt.want; v.Acted.Has(tt.quirk.Kind) != changed {
			t.Errorf("%v: acts on %s: %b", tt.quirk.Kind, tt.name, v.Acted)
		}
	}
}

// TestOddTables: rows that there are not, rows that there are, and their order.
func TestOddTables(t *testing.T) {
	for _, tt := range []struct {
		quirk snap.Quirk
		name  string
		want  []uint32
	}{
		{snap.Quirk{Kind: snap.QuirkZeroPhaseRows, Count: 3}, "upsInputVoltage", []uint32{1, 2, 3}},
		{snap.Quirk{Kind: snap.QuirkZeroPhaseRows, Count: 3}, "upsBypassVoltage", nil}, // no bypass
		{snap.Quirk{Kind: snap.QuirkZeroPhaseRows, Count: 3}, "upsAlarmDescr", []uint32{3, 9}},
		{snap.Quirk{Kind: snap.QuirkPaddedAlarms, Count: 4}, "upsAlarmDescr", []uint32{3, 9, 10, 11}},
		{snap.Quirk{Kind: snap.QuirkPaddedAlarms, Count: 1}, "upsAlarmDescr", []uint32{3, 9}},
		{snap.Quirk{Kind: snap.QuirkPaddedAlarms, Count: 4}, "ifDescr", []uint32{1}},
		{snap.Quirk{Kind: snap.QuirkHalfAwake, Lasts: vtime.Hour}, "upsAlarmDescr", nil},
		{snap.Quirk{Kind: snap.QuirkHalfAwake, Lasts: vtime.Hour}, "upsBatteryVoltage", nil},
		{snap.Quirk{Kind: snap.QuirkHalfAwake, Lasts: vtime.Hour}, "sysUpTime", []uint32{0}},
		{snap.Quirk{Kind: snap.QuirkAbsent, Objects: []string{"upsInputVoltage"}}, "upsInputVoltage", nil},
		{snap.Quirk{Kind: snap.QuirkAbsent, Objects: []string{"upsInputVoltage"}}, "upsInputCurrent", []uint32{1}},
	} {
		v, x := odd(tt.quirk), Lookup(tt.name)
		var got []uint32
		for row := range x.Rows(v) {
			got = append(got, x.Instance(v, row))
			x.At(v, row) // must not look beyond the rows that there are
		}
		if len(got) != len(tt.want) {
			t.Errorf("%v: %s has rows %v, want %v", tt.quirk.Kind, tt.name, got, tt.want)
			continue
		}
		for i := range got {
			if got[i] != tt.want[i] {
				t.Errorf("%v: %s has rows %v, want %v", tt.quirk.Kind, tt.name, got, tt.want)
			}
		}
	}
}

// TestUpTimeStepsBack: sometimes, by up to the time, and the same for the same seed.
func TestUpTimeStepsBack(t *testing.T) {
	read := func(seed uint64) (list [200]int64) {
		v := odd(snap.Quirk{Kind: snap.QuirkUptimeStepsBack, Percent: 25, Lasts: 10 * vtime.Second})
		set := *v.Quirks
		set.Seed = seed
		v.Quirks = &set
		for i := range list {
			list[i] = Lookup("sysUpTime").At(v, 0).Int
			if list[i] > 9099 || list[i] < 9099-1000 {
				t.Fatalf("%d", list[i])
			}
		}
		return list
	}
	steps := 0
	for _, n := range read(1) {
		if n != 9099 {
			steps++
		}
	}
	if steps < 20 || steps > 80 { // 25 % of 200, at more than four standard deviations
		t.Errorf("%d of 200", steps)
	}
	if one, again, other := read(1), read(1), read(2); one != again || one == other {
		t.Error("the seed does not decide")
	}
}

// TestPeopleSeeTheTruth: quirks are of the agent, not of the menu.
func TestPeopleSeeTheTruth(t *testing.T) {
	v := odd(snap.Quirk{Kind: snap.QuirkRuntimeZero})
	if got := Lookup(snap.ObjectRuntime).Text(v.Dev, v.Now); got != "17 min" {
		t.Errorf("the menu shows %q", got)
	}
}
