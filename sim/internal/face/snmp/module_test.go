package snmp

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/checks"
)

// modules is a folder with the generated module and what it imports.
func modules(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for _, file := range []string{"docs/RIDETHROUGH-MIB.txt", "testdata/smi/SNMPv2-SMI", "testdata/smi/SNMPv2-TC", "testdata/smi/SNMPv2-CONF", "testdata/smi/SNMPv2-MIB"} {
		text, err := os.ReadFile(filepath.Join("../../../..", file))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.Base(file)), text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// withModule runs a tool with the module loaded. Whatever the tool says of the module is
// in the output, and so fails the test.
func withModule(t *testing.T, name string, args ...string) string {
	t.Helper()
	persistent := t.TempDir()
	if err := os.Mkdir(filepath.Join(persistent, "cert_indexes"), 0o755); err != nil { // or the tool tells that it made it
		t.Fatal(err)
	}
	cmd := exec.Command(checks.Program(t, name), append([]string{"-M", modules(t), "-m", "RIDETHROUGH-MIB"}, args...)...)
	cmd.Env = append(os.Environ(), "SNMPCONFPATH="+t.TempDir(), "SNMP_PERSISTENT_DIR="+persistent)
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v: %s", name, err, out)
	}
	return strings.TrimSpace(string(out))
}

// TestModuleWithTools has an independent manager read our tables by the generated
// module: names, enumerations and units.
func TestModuleWithTools(t *testing.T) {
	l := serve(t, New(demo(), Config{}))
	walk := func(object string) []string {
		return strings.Split(withModule(t, "snmpwalk", "-v2c", "-c", "watch", l.String(), object), "\n")
	}
	if diff := cmp.Diff([]string{
		"RIDETHROUGH-MIB::rtHostName.1 = STRING: db",
		"RIDETHROUGH-MIB::rtHostName.2 = STRING: web",
		"RIDETHROUGH-MIB::rtHostName.3 = STRING: nas",
		"RIDETHROUGH-MIB::rtHostPower.1 = INTEGER: powered(1)",
		"RIDETHROUGH-MIB::rtHostPower.2 = INTEGER: unpowered(2)",
		"RIDETHROUGH-MIB::rtHostPower.3 = INTEGER: unknown(3)",
		"RIDETHROUGH-MIB::rtHostSupplies.1 = INTEGER: 2",
		"RIDETHROUGH-MIB::rtHostSupplies.2 = INTEGER: 1",
		"RIDETHROUGH-MIB::rtHostSupplies.3 = INTEGER: 2",
		"RIDETHROUGH-MIB::rtHostSuppliesLive.1 = INTEGER: 1",
		"RIDETHROUGH-MIB::rtHostSuppliesLive.2 = INTEGER: 0",
		"RIDETHROUGH-MIB::rtHostSuppliesLive.3 = INTEGER: 0",
		"RIDETHROUGH-MIB::rtHostGroups.1 = STRING: desks, wall",
		"RIDETHROUGH-MIB::rtHostGroups.2 = STRING: racks",
		"RIDETHROUGH-MIB::rtHostGroups.3 = STRING: racks, wall",
	}, walk("RIDETHROUGH-MIB::rtHostTable")); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{
		"RIDETHROUGH-MIB::rtProbeTemperature.1 = INTEGER: 215 0.1 degrees Celsius",
		"RIDETHROUGH-MIB::rtProbeTemperature.2 = INTEGER: 412 0.1 degrees Celsius",
	}, walk("rtProbeTemperature")); diff != "" {
		t.Error(diff)
	}
	table := withModule(t, "snmptable", "-v2c", "-c", "watch", "-Cf", "|", "-CH", l.String(), "RIDETHROUGH-MIB::rtGroupTable")
	if diff := cmp.Diff([]string{
		"desks|turningOff|ups|500 milliseconds|30000 milliseconds|740 RMS watts|delay|none|db|tables at the window",
		"racks|turningOn|ups|0 milliseconds|-1 milliseconds|0 RMS watts|order|none|web, nas|",
		"wall|unknown|mains|0 milliseconds|-1 milliseconds|-1 RMS watts|none|none||",
	}, strings.Split(table, "\n")); diff != "" {
		t.Error(diff)
	}
	if got := withModule(t, "snmptranslate", "-On", "RIDETHROUGH-MIB::rtProbeAlert"); got != ".1.3.6.1.4.1.32473.1.0.2" {
		t.Error(got)
	}
}

// TestEntityTablesWithTools reads the sensors with a manager that has no module for
// them: the numbers must do.
func TestEntityTablesWithTools(t *testing.T) {
	l := serve(t, New(demo(), Config{}))
	out := withModule(t, "snmpbulkwalk", "-v2c", "-c", "watch", "-On", l.String(), "1.3.6.1.2.1.99.1.1.1.5")
	want := ".1.3.6.1.2.1.99.1.1.1.5.6 = INTEGER: 1\n.1.3.6.1.2.1.99.1.1.1.5.101 = INTEGER: 1\n" +
		".1.3.6.1.2.1.99.1.1.1.5.102 = INTEGER: 1\n.1.3.6.1.2.1.99.1.1.1.5.103 = INTEGER: 1\n.1.3.6.1.2.1.99.1.1.1.5.201 = INTEGER: 1"
	if diff := cmp.Diff(want, out); diff != "" {
		t.Error(diff)
	}
}
