package main

import (
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// Real clients against the served card: the SNMP command-line tools, a real
// receiver, a terminal on the serial line, OpenSSH.
func TestRealClients(t *testing.T) { runReal(t, "real", "") }

// The whole job of docs/commissioning.md, in each of its variants.
func TestCommissioning(t *testing.T) {
	for _, variant := range []string{"dhcp", "fixed", "deaf"} {
		runReal(t, "job", variant)
	}
}

// runReal runs the scripts of a folder of testdata, all at the same time.
func runReal(t *testing.T, folder, variant string) {
	t.Helper()
	scenarios, err := filepath.Abs(filepath.Join("..", "..", "scenarios"))
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", folder),
		RequireExplicitExec: true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("SCENARIOS", scenarios)
			env.Setenv("TERM", "dumb")
			env.Setenv("VARIANT", variant)
			return nil
		},
		Condition: func(cond string) (bool, error) {
			name, ok := strings.CutPrefix(cond, "variant:")
			if !ok {
				return false, fmt.Errorf("unknown condition %q", cond)
			}
			return name == variant, nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "field": field, "await": await, "named": named, "hostport": hostport, "port": port,
		},
	})
}

// Whoever runs the tests in CI has these; see .ci/run.
func TestRealClientsAreThere(t *testing.T) {
	if os.Getenv("CI") != "true" {
		t.Skip("only CI has to have every client")
	}
	for _, tool := range []string{"snmpget", "snmpset", "snmpwalk", "snmpbulkwalk", "snmptrapd", "expect", "picocom", "ssh", "socat", "freeradius"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Error(err)
		}
	}
}

// await waits until a file holds a line that matches: await FILE REGEXP.
func await(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: await FILE REGEXP")
	}
	want, err := regexp.Compile("(?m)" + args[1])
	ts.Check(err)
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); time.Sleep(10 * time.Millisecond) {
		text, err := os.ReadFile(ts.MkAbs(args[0]))
		if err == nil && want.Match(text) {
			return
		}
	}
	text, _ := os.ReadFile(ts.MkAbs(args[0]))
	ts.Fatalf("%s never matched %q:\n%s", args[0], args[1], text)
}

// named keeps of a walk what does not move: names and types. named FILE WALK.
func named(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: named FILE WALK")
	}
	var kept strings.Builder
	n := 0
	for line := range strings.Lines(ts.ReadFile(args[1])) {
		name, value, found := strings.Cut(line, " = ")
		if !found || strings.HasPrefix(value, "No more variables") {
			continue
		}
		kind, _, _ := strings.Cut(strings.TrimSpace(value), ":")
		if kind == `""` {
			kind = "STRING"
		}
		kept.WriteString(name + " " + kind + "\n")
		n++
	}
	if n < 80 {
		ts.Fatalf("a walk of %d objects is not all of them", n)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(kept.String()), 0o666))
}

// hostport splits the address in NAME into NAME_HOST and NAME_PORT.
func hostport(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: hostport NAME")
	}
	host, port, err := net.SplitHostPort(ts.Getenv(args[0]))
	ts.Check(err)
	ts.Setenv(args[0]+"_HOST", host)
	ts.Setenv(args[0]+"_PORT", port)
}

// loopback is an address at which nobody else is likely to be: what is free there stays so
// until a server of the test takes it.
func loopback() net.IP {
	if runtime.GOOS != "linux" {
		return net.IPv4(127, 0, 0, 1)
	}
	return net.IPv4(127, byte(128+rand.IntN(100)), byte(rand.IntN(256)), byte(1+rand.IntN(200)))
}

// port finds a free UDP port on loopback for a server that cannot say which one
// it was given: port NAME puts host:port into the environment.
func port(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: port NAME")
	}
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: loopback()})
	ts.Check(err)
	defer conn.Close()
	ts.Setenv(args[0], conn.LocalAddr().String())
}
