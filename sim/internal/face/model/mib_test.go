package model

import (
	"encoding/csv"
	"os"
	"slices"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// object is one line of testdata/ups-mib.csv, which lists RFC 1628.
type object struct {
	oid                                             ber.OID
	name, kind, syntax, units, access, parts, level string
}

func readObjects(t *testing.T) []object {
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
	var objects []object
	for _, l := range lines[1:] {
		objects = append(objects, object{ber.MustOID(l[0]), l[1], l[2], l[3], l[4], l[5], l[6], l[7]})
	}
	return objects
}

// TestStandard holds the table against RFC 1628 object by object, both ways.
func TestStandard(t *testing.T) {
	seen := map[string]bool{}
	for _, o := range readObjects(t) {
		seen[o.name] = true
		t.Run(o.name, func(t *testing.T) {
			switch {
			case o.kind == "MODULE-IDENTITY":
				if !ups(1).HasPrefix(o.oid) {
					t.Errorf("table stands at %v", ups())
				}
			case o.kind == "OBJECT-IDENTITY":
				checkIdentity(t, o)
			case o.kind == "NOTIFICATION-TYPE":
				checkNotification(t, o)
			case strings.HasPrefix(o.syntax, "SEQUENCE OF"):
				checkTable(t, o)
			case strings.HasSuffix(o.name, "Entry"):
				checkEntry(t, o)
			default:
				checkVariable(t, o)
			}
		})
	}
	if len(seen) < 100 {
		t.Fatalf("only %d objects were read", len(seen))
	}
	for _, name := range ourNames() {
		if strings.HasPrefix(name, "ups") && !seen[name] {
			t.Errorf("%s is not in RFC 1628", name)
		}
	}
}

func ourNames() []string {
	var names []string
	for _, x := range All() {
		names = append(names, x.Name)
	}
	for _, table := range Tables() {
		names = append(names, table.Name, table.Entry)
	}
	for _, id := range append(Alarms(), Tests()...) {
		names = append(names, id.Name)
	}
	for _, n := range Notifications() {
		names = append(names, n.Name)
	}
	return names
}

func checkVariable(t *testing.T, o object) {
	x, ok := Find(o.name)
	if !ok {
		t.Fatal("missing")
	}
	tidy := func(s string) string { return strings.ReplaceAll(s, "(SIZE(", "(SIZE (") }
	want := tidy(o.syntax)
	if x.Name == "upsShutdownAfterDelay" || x.Name == "upsStartupAfterDelay" {
		want = strings.Replace(want, "2147483648", "2147483647", 1) // erratum 3276 to RFC 1628
	}
	if got := x.Syntax.String(); got != want {
		t.Errorf("syntax %q, want %q", got, want)
	}
	if !x.OID.Equal(o.oid) {
		t.Errorf("OID %v, want %v", x.OID, o.oid)
	}
	if x.Access.String() != o.access {
		t.Errorf("access %v, want %s", x.Access, o.access)
	}
	if x.Units != o.units {
		t.Errorf("units %q, want %q", x.Units, o.units)
	}
	if got := levels(x.Levels); got != o.level {
		t.Errorf("conformance %q, want %q", got, o.level)
	}
	if strings.HasPrefix(x.Units, "0.1 ") != (x.Decimals == 1) {
		t.Errorf("%d decimals of %q", x.Decimals, x.Units)
	}
}

func levels(l Level) string {
	var names []string
	for i, name := range []string{"subset", "basic", "full"} {
		if l&(1<<i) != 0 {
			names = append(names, name)
		}
	}
	return strings.Join(names, "+")
}

func findTable(match func(*Table) bool) *Table {
	if i := slices.IndexFunc(Tables(), match); i >= 0 {
		return Tables()[i]
	}
	return nil
}

func checkTable(t *testing.T, o object) {
	table := findTable(func(table *Table) bool { return table.Name == o.name })
	if table == nil || !table.OID.Equal(o.oid) {
		t.Errorf("got %+v", table)
	}
}

func checkEntry(t *testing.T, o object) {
	table := findTable(func(table *Table) bool { return table.Entry == o.name })
	if table == nil || !table.OID.Child(1).Equal(o.oid) || table.Index != o.parts {
		t.Errorf("got %+v", table)
	}
}

func checkIdentity(t *testing.T, o object) {
	for _, id := range append(Alarms(), Tests()...) {
		if id.Name == o.name {
			if !id.OID.Equal(o.oid) {
				t.Errorf("OID %v, want %v", id.OID, o.oid)
			}
			return
		}
	}
	t.Error("missing")
}

func checkNotification(t *testing.T, o object) {
	for _, n := range Notifications() {
		if n.Name != o.name {
			continue
		}
		if !n.OID.Equal(o.oid) || n.OID[len(n.OID)-1] != uint32(n.Kind) {
			t.Errorf("OID %v of kind %d, want %v", n.OID, n.Kind, o.oid)
		}
		if got := strings.Join(n.Objects, ", "); got != o.parts {
			t.Errorf("carries %s, want %s", got, o.parts)
		}
		return
	}
	t.Error("missing")
}

// TestNeighbours holds the system, snmp and set groups against RFC 3418, and the
// others against RFC 2863, RFC 3411 to RFC 3414, RFC 6933 and RFC 3433. The list is
// from memory, names in the order of their arcs.
func TestNeighbours(t *testing.T) {
	groups := map[string]string{
		"1.3.6.1.2.1.1": "sysDescr sysObjectID sysUpTime sysContact sysName sysLocation sysServices sysORLastChange",
		"1.3.6.1.2.1.11": "snmpInPkts snmpOutPkts snmpInBadVersions snmpInBadCommunityNames snmpInBadCommunityUses snmpInASNParseErrs - " +
			"snmpInTooBigs snmpInNoSuchNames snmpInBadValues snmpInReadOnlys snmpInGenErrs snmpInTotalReqVars snmpInTotalSetVars " +
			"snmpInGetRequests snmpInGetNexts snmpInSetRequests snmpInGetResponses snmpInTraps snmpOutTooBigs snmpOutNoSuchNames " +
			"snmpOutBadValues - snmpOutGenErrs snmpOutGetRequests snmpOutGetNexts snmpOutSetRequests snmpOutGetResponses snmpOutTraps " +
			"snmpEnableAuthenTraps snmpSilentDrops snmpProxyDrops",
		"1.3.6.1.2.1.1.9.1": "sysORIndex sysORID sysORDescr sysORUpTime",
		"1.3.6.1.2.1.2":     "ifNumber",
		"1.3.6.1.2.1.2.2.1": "ifIndex ifDescr ifType ifMtu ifSpeed ifPhysAddress ifAdminStatus ifOperStatus ifLastChange " +
			"ifInOctets ifInUcastPkts - ifInDiscards ifInErrors ifInUnknownProtos ifOutOctets ifOutUcastPkts - ifOutDiscards ifOutErrors",
		"1.3.6.1.6.3.10.2.1": "snmpEngineID snmpEngineBoots snmpEngineTime snmpEngineMaxMessageSize",
		"1.3.6.1.6.3.11.2.1": "snmpUnknownSecurityModels snmpInvalidMsgs snmpUnknownPDUHandlers",
		"1.3.6.1.6.3.12.1":   "- - - snmpUnavailableContexts snmpUnknownContexts",
		"1.3.6.1.6.3.15.1.1": "usmStatsUnsupportedSecLevels usmStatsNotInTimeWindows usmStatsUnknownUserNames " +
			"usmStatsUnknownEngineIDs usmStatsWrongDigests usmStatsDecryptionErrors",
		"1.3.6.1.6.3.1.1.6": "snmpSetSerialNo",
		"1.3.6.1.6.3.1.1.5": "coldStart warmStart linkDown linkUp authenticationFailure",
		"1.3.6.1.2.1.47.1.1.1.1": "entPhysicalIndex entPhysicalDescr entPhysicalVendorType entPhysicalContainedIn entPhysicalClass " +
			"entPhysicalParentRelPos entPhysicalName entPhysicalHardwareRev entPhysicalFirmwareRev entPhysicalSoftwareRev " +
			"entPhysicalSerialNum entPhysicalMfgName entPhysicalModelName entPhysicalAlias entPhysicalAssetID entPhysicalIsFRU " +
			"entPhysicalMfgDate entPhysicalUris entPhysicalUUID",
		"1.3.6.1.2.1.47.1.4": "entLastChangeTime",
		"1.3.6.1.2.1.99.1.1.1": "entPhySensorType entPhySensorScale entPhySensorPrecision entPhySensorValue entPhySensorOperStatus " +
			"entPhySensorUnitsDisplay entPhySensorValueTimeStamp entPhySensorValueUpdateRate",
	}
	oids := map[string]ber.OID{}
	for _, x := range All() {
		oids[x.Name] = x.OID
	}
	for _, n := range Notifications() {
		oids[n.Name] = n.OID
	}
	for parent, names := range groups {
		for i, name := range strings.Fields(names) {
			want := ber.MustOID(parent).Child(uint32(i + 1))
			if name != "-" && !oids[name].Equal(want) {
				t.Errorf("%s is %v, want %v", name, oids[name], want)
			}
		}
	}
}

// TestTable holds what every row must have.
func TestTable(t *testing.T) {
	labels := map[string]string{}
	for i, x := range All() {
		if i > 0 && All()[i-1].OID.Compare(x.OID) >= 0 {
			t.Errorf("%s is out of order", x.Name)
		}
		if i > 0 && x.OID.HasPrefix(All()[i-1].OID) {
			t.Errorf("%s is below %s", x.Name, All()[i-1].Name)
		}
		if x.Label == "" || x.Group == "" || !strings.HasSuffix(x.Description, ".") {
			t.Errorf("%s lacks words", x.Name)
		}
		if other := labels[x.Label]; other != "" {
			t.Errorf("%s and %s have the same label", x.Name, other)
		}
		labels[x.Label] = x.Name
		if given(x.measure != nil)+given(x.count != nil)+given(x.read != nil) != 1 {
			t.Errorf("%s must be measured or read", x.Name)
		}
		if x.Table != nil && !x.OID[:len(x.OID)-1].Equal(x.Table.OID.Child(1)) {
			t.Errorf("%s is no column of %s", x.Name, x.Table.Name)
		}
		// ifTable is older than the rule: its index can be read (RFC 2863).
		if (x.Access == NotAccessible) != (x.Table != nil && x.Table.Index == x.Name && x.Name != "ifIndex") {
			t.Errorf("%s: only an index is not accessible", x.Name)
		}
	}
}

// TestWritable holds the writable variables against those that the engine knows.
func TestWritable(t *testing.T) {
	known := []snap.Var{
		snap.VarSysContact, snap.VarSysName, snap.VarSysLocation, snap.VarAuthenTraps, snap.VarIdentName,
		snap.VarAttachedDevices, snap.VarTestID, snap.VarTestSpinLock, snap.VarShutdownType, snap.VarShutdownAfter,
		snap.VarStartupAfter, snap.VarReboot, snap.VarAutoRestart, snap.VarInputVoltage, snap.VarInputFreq,
		snap.VarOutputVoltage, snap.VarOutputFreq, snap.VarLowBattTime, snap.VarAudible, snap.VarLowTransfer,
		snap.VarHighTransfer, snap.VarSnmpSetSerialNo, snap.VarGroupOrder,
	}
	count := 0
	for _, x := range All() {
		if x.Access == ReadWrite {
			count++
			if !slices.Contains(known, snap.Var(x.Name)) {
				t.Errorf("the engine does not know %s", x.Name)
			}
		}
	}
	if count != len(known) {
		t.Errorf("%d writable variables, want %d", count, len(known))
	}
}

func TestNames(t *testing.T) {
	if _, ok := Find("nothing"); ok {
		t.Error("found nothing")
	}
	defer func() {
		if recover() == nil {
			t.Error("Lookup of an unknown name came back")
		}
	}()
	Lookup("nothing")
}

func given(yes bool) int {
	if yes {
		return 1
	}
	return 0
}
