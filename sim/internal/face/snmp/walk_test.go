package snmp

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/model"
)

// client is an independent manager of the agent.
func client(t *testing.T, a *Agent, version gosnmp.SnmpVersion, community string) *gosnmp.GoSNMP {
	t.Helper()
	g := &gosnmp.GoSNMP{Target: "127.0.0.1", Port: uint16(serve(t, a).Port), Version: version,
		Community: community, Timeout: 20 * time.Second, MaxOids: 60, MaxRepetitions: 10}
	if err := g.Connect(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { g.Conn.Close() })
	return g
}

// threePhase has rows in every table.
func threePhase() *fake {
	f := demo()
	f.change(func(d *snap.Device) { d.Input.Count, d.Output.Count, d.Bypass.Count = 3, 3, 3 })
	return f
}

// instances is every instance that the agent should serve, from the table.
func instances(f *fake) []string {
	var names []string
	v := &model.View{Dev: f.Device(), Now: f.Now()}
	for _, x := range model.All() {
		if x.Access == model.NotAccessible {
			continue
		}
		for row := range x.Rows(v) {
			names = append(names, fmt.Sprintf("%v.%d", x.OID, x.Instance(v, row)))
		}
	}
	return names
}

// TestWalks holds that every way to walk finds every instance of the table once
// and in order.
func TestWalks(t *testing.T) {
	for name, f := range map[string]*fake{"one phase": demo(), "three phases": threePhase()} {
		want := instances(f)
		for _, walk := range []struct {
			name    string
			version gosnmp.SnmpVersion
			walk    func(*gosnmp.GoSNMP, string, gosnmp.WalkFunc) error
		}{
			{"v1", gosnmp.Version1, (*gosnmp.GoSNMP).Walk},
			{"v2c", gosnmp.Version2c, (*gosnmp.GoSNMP).Walk},
			{"bulk", gosnmp.Version2c, (*gosnmp.GoSNMP).BulkWalk},
		} {
			t.Run(name+" "+walk.name, func(t *testing.T) {
				var got []string
				g := client(t, New(f, Config{}), walk.version, "watch")
				err := walk.walk(g, ".1.3.6.1", func(p gosnmp.SnmpPDU) error {
					got = append(got, strings.TrimPrefix(p.Name, "."))
					return nil
				})
				if err != nil {
					t.Fatal(err)
				}
				if diff := cmp.Diff(want, got); diff != "" {
					t.Error(diff)
				}
			})
		}
	}
}

// TestToolWalks does the same with the command-line tools, and compares values.
func TestToolWalks(t *testing.T) {
	f := threePhase()
	target := fmt.Sprint("udp:", serve(t, New(f, Config{})))
	common := []string{"-t", "5", "-r", "0", "-On", "-Oe", "-c", "watch"}
	var results [][]string
	for _, run := range [][]string{
		{"snmpwalk", "-v1"}, {"snmpwalk", "-v2c"}, {"snmpbulkwalk", "-v2c", "-Cr1"}, {"snmpbulkwalk", "-v2c", "-Cr50"},
	} {
		out, err := tool(t, run[0], slices.Concat(run[1:], common, []string{target, ".1.3.6.1"})...)
		if err != nil {
			t.Fatalf("%v: %v\n%s", run, err, out)
		}
		results = append(results, withoutCounts(out))
	}
	if want := len(instances(f)); len(results[0]) < want-50 {
		t.Errorf("%d lines for %d instances", len(results[0]), want)
	}
	for _, other := range results[1:] {
		if diff := cmp.Diff(results[0], other); diff != "" {
			t.Error(diff)
		}
	}
}

// withoutCounts is the variables that a walk printed, but for the agent's own
// counters, which the walk itself changes.
func withoutCounts(out string) []string {
	return slices.DeleteFunc(strings.Split(out, "\n"), func(line string) bool {
		return !strings.HasPrefix(line, ".1.3.") || strings.Contains(line, "No more variables left") ||
			!strings.HasPrefix(line, ".1.3.6.1.2.1.33.") && strings.Contains(line, "Counter32")
	})
}

func TestTools(t *testing.T) {
	f := demo()
	target := fmt.Sprint("udp:", serve(t, New(f, Config{})))
	tests := []struct{ run, want string }{
		{"snmpget -v1 -c watch @ " + batteryVolt, ".1.3.6.1.2.1.33.1.2.5.0 = INTEGER: 732"},
		{"snmpget -v2c -c steer @ " + sysUpTime, ".1.3.6.1.2.1.1.3.0 = Timeticks: (9050) 0:01:30.50"},
		{"snmpget -v2c -c watch @ " + alarmDescr + ".2", ".1.3.6.1.2.1.33.1.6.2.1.2.2 = OID: .1.3.6.1.2.1.33.1.6.3.6"},
		{"snmpget -v2c -c watch @ 1.3.6.1.2.1.99.0", "No Such Object available"},
		{"snmpget -v2c -c watch @ 1.3.6.1.2.1.1.3.7", "No Such Instance currently exists"},
		{"snmpget -v1 -c watch @ 1.3.6.1.2.1.99.0", "noSuchName"},
		{"snmpgetnext -v2c -c watch @ " + lastOne, "No more variables left in this MIB View"},
		{"snmpset -v2c -c steer @ " + sysContact + " s new", `.1.3.6.1.2.1.1.4.0 = STRING: "new"`},
		{"snmpset -v1 -c steer @ " + sysContact + " s new", `.1.3.6.1.2.1.1.4.0 = STRING: "new"`},
		{"snmpset -v2c -c steer @ " + sysContact + " i 1", "wrongType"},
		{"snmpset -v1 -c steer @ " + sysContact + " i 1", "badValue"},
		{"snmpset -v2c -c steer @ 1.3.6.1.2.1.33.1.8.4.0 i 301", "wrongValue"},
		{"snmpset -v2c -c steer @ " + batteryVolt + " i 1", "notWritable"},
		{"snmpset -v2c -c watch @ " + sysContact + " s x", "noAccess"},
		{"snmpset -v1 -c watch @ " + sysContact + " s x", "noSuchName"},
		{"snmpget -v2c -c wrong @ " + sysUpTime, "Timeout: No Response"},
	}
	for _, tt := range tests {
		t.Run(tt.run, func(t *testing.T) {
			words := strings.Fields(strings.Replace(tt.run, "@", target, 1))
			wait := "5"
			if strings.Contains(tt.want, "Timeout") {
				wait = "0.2"
			}
			out, _ := tool(t, words[0], slices.Concat([]string{"-On", "-r", "0", "-t", wait}, words[1:])...)
			if !strings.Contains(out, tt.want) {
				t.Errorf("got %q, want %q", out, tt.want)
			}
		})
	}
}

// TestClientWrites sets several variables with an independent manager.
func TestClientWrites(t *testing.T) {
	f := demo()
	g := client(t, New(f, Config{}), gosnmp.Version2c, "steer")
	reply, err := g.Set([]gosnmp.SnmpPDU{
		{Name: "." + nameOf("upsTestSpinLock"), Type: gosnmp.Integer, Value: 1},
		{Name: "." + nameOf("upsTestId"), Type: gosnmp.ObjectIdentifier, Value: ".1.3.6.1.2.1.33.1.7.7.4"},
	})
	if err != nil || reply.Error != gosnmp.NoError {
		t.Fatalf("%v, %+v", err, reply)
	}
	want := []snap.Assignment{{Var: snap.VarTestSpinLock, Int: 1}, {Var: snap.VarTestID, Int: int64(snap.TestQuickBattery)}}
	if diff := cmp.Diff(want, f.submitted()[0].Sets); diff != "" {
		t.Error(diff)
	}
}
