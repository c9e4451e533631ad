package snmp

import (
	"encoding/csv"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// standard is an object of RFC 1628 as testdata/ups-mib.csv lists it, with its
// conformance groups.
type standard struct {
	oid, name, access string
	levels            []string
}

func readStandard(t *testing.T) (list []standard) {
	t.Helper()
	f, err := os.Open("../../../../testdata/ups-mib.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lines[1:] {
		if access := l[5]; access == "read-only" || access == "read-write" {
			list = append(list, standard{l[0], l[1], access, strings.Split(l[7], "+")})
		}
	}
	if len(list) < 50 {
		t.Fatalf("only %d objects were read", len(list))
	}
	return list
}

func (s *standard) in(level snap.Conformance) bool {
	return level == snap.ConformAll || slices.Contains(s.levels, level.String())
}

// conforming is threePhase at a level.
func conforming(level snap.Conformance) *fake {
	f := threePhase()
	f.change(func(d *snap.Device) { d.Card.Settings.Conformance = level })
	return f
}

// TestConformanceLevels holds each level against RFC 1628: what its compliance
// statement asks for is there and the rest is not, for gets, walks and sets.
func TestConformanceLevels(t *testing.T) {
	objects := readStandard(t)
	for level := range snap.Conformances {
		t.Run(level.String(), func(t *testing.T) {
			a := New(conforming(level), Config{})
			walked := map[string]bool{}
			g := client(t, a, gosnmp.Version2c, "watch")
			if err := g.BulkWalk(".1.3.6.1.2.1.33", func(p gosnmp.SnmpPDU) error {
				walked[p.Name[1:strings.LastIndex(p.Name, ".")]] = true
				return nil
			}); err != nil {
				t.Fatal(err)
			}
			for _, o := range objects {
				if walked[o.oid] != o.in(level) {
					t.Errorf("%s of %v: walked %v", o.name, o.levels, walked[o.oid])
				}
				checkLevel(t, a, o, o.in(level))
			}
		})
	}
}

// checkLevel holds that o answers, or is unknown to both versions.
func checkLevel(t *testing.T, a *Agent, o standard, there bool) {
	t.Helper()
	name := o.oid + ".99" // a row that no table has
	want := ber.NoSuchInstance
	if !there {
		want = ber.NoSuchObject
	}
	if m := ask(t, a, req{version: ber.V2c, community: "watch", kind: ber.GetRequest, id: 1, names: []string{name}}); m.PDU.VarBinds[0].Value.Tag != want {
		t.Errorf("%s: got %v, want %v", o.name, m.PDU.VarBinds[0].Value.Tag, want)
	}
	if there {
		return
	}
	name = o.oid + ".0"
	if m := ask(t, a, req{version: ber.V1, community: "watch", kind: ber.GetRequest, id: 1, names: []string{name}}); m.PDU.Status != int32(NoSuchName) || m.PDU.Index != 1 {
		t.Errorf("%s in SNMPv1: status %d", o.name, m.PDU.Status)
	}
	for version, want := range map[int32]Status{ber.V1: NoSuchName, ber.V2c: NotWritable} {
		if m := ask(t, a, write(version, "steer", name, num(1))); m.PDU.Status != int32(want) {
			t.Errorf("%s written in version %d: status %d, want %d", o.name, version, m.PDU.Status, want)
		}
	}
}

// TestConformanceOfNotifications: they carry what the level has, and one that
// would carry nothing of it is not sent.
func TestConformanceOfNotifications(t *testing.T) {
	for kind, carries := range map[snap.NotifyKind]map[snap.Conformance]string{
		snap.NotifyOnBattery: {snap.ConformAll: "2.3 2.2 9.7", snap.ConformFull: "2.3 2.2 9.7", snap.ConformBasic: "2.2 9.7", snap.ConformSubset: "2.2"},
		snap.NotifyTestCompleted: {snap.ConformAll: "7.1 7.2 7.3 7.4 7.5 7.6", snap.ConformFull: "7.1 7.2 7.3 7.4 7.5 7.6",
			snap.ConformBasic: "7.1 7.2 7.3 7.4 7.5 7.6", snap.ConformSubset: "not sent"},
		snap.NotifyAlarmAdded: {snap.ConformAll: "6.2.1.1 6.2.1.2", snap.ConformFull: "6.2.1.1 6.2.1.2",
			snap.ConformBasic: "6.2.1.1 6.2.1.2", snap.ConformSubset: "6.2.1.1 6.2.1.2"},
		snap.NotifyColdStart: {snap.ConformAll: "", snap.ConformFull: "", snap.ConformBasic: "", snap.ConformSubset: ""},
	} {
		for level, want := range carries {
			if got := carried(t, New(conforming(level), Config{}), snap.Notification{Kind: kind, AlarmID: 300, Alarm: snap.AlarmLowBattery}); got != want {
				t.Errorf("%v at level %v carries %q, want %q", kind, level, got, want)
			}
		}
	}
}

// carried is the objects of a notification, behind the two that all have.
func carried(t *testing.T, a *Agent, n snap.Notification) string {
	t.Helper()
	b, err := a.Notification(nil, Envelope{Version: V2c, Community: "alerts"}, n)
	if err != nil {
		return "not sent"
	}
	var m ber.Message
	if err := m.Decode(b); err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, vb := range m.PDU.VarBinds[2:] {
		name := strings.TrimPrefix(vb.Name.String(), "1.3.6.1.2.1.33.1.")
		names = append(names, name[:strings.LastIndex(name, ".")])
	}
	return strings.Join(names, " ")
}

// TestConformanceIsASetting: a technician changes it, and it is in force after the
// next restart of the card.
func TestConformanceIsASetting(t *testing.T) {
	l := begin(t, "conformance = \"full\"\n")
	l.want("full", "upsBatteryVoltage", "no such object", "upsEstimatedChargeRemaining", "100")
	s := l.Site.Card.Saved.Clone()
	s.Conformance = snap.ConformSubset
	if r := l.Do(snap.Command{Op: snap.OpSave, Settings: s, By: snap.Actor{Surface: "serial", Role: snap.Administrator}}); r.Status != snap.Done {
		t.Fatal(r.Reason)
	}
	l.want("not yet", "upsEstimatedChargeRemaining", "100")
	l.Do(snap.Command{Op: snap.OpRestart, By: snap.Actor{Surface: "serial", Role: snap.Administrator}})
	l.at(5*minute).want("subset", "upsEstimatedChargeRemaining", "no such object", "upsBatteryStatus", "2", "sysORID.2", "1.3.6.1.2.1.33.3.1.1")
}
