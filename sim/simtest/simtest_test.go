package simtest_test

import (
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
	"ridethrough/sim/internal/checks"
	"ridethrough/sim/simtest"
)

func TestMain(m *testing.M) { checks.Main(m) }

const site = `
title = "One database"
seed = 5
run_for = "45m"
[card]
read_community = "look"
write_community = "touch"
[[host]]
name = "db"
draw_w = 400
stop_takes = "60s"
[[expect]]
name = "it is never cut"
that = "hosts.db.cuts > 0"
never = true
[[variant]]
name = "heavy"
why = "The battery is empty sooner."
misses = ["it is never cut"]
set = { "host.db.draw_w" = 1200 }
`

// spy is a test that is watched.
type spy struct {
	mu      sync.Mutex
	said    []string
	cleanup []func()
}

func (s *spy) Helper() {}

func (s *spy) Logf(format string, args ...any) {}

func (s *spy) Errorf(format string, args ...any) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.said = append(s.said, fmt.Sprintf(format, args...))
}

var errFatal = errors.New("the test was ended")

func (s *spy) Fatalf(format string, args ...any) {
	s.Errorf(format, args...)
	panic(errFatal)
}

func (s *spy) Cleanup(f func()) { s.cleanup = append(s.cleanup, f) }

// watch runs a test to its end and is what it said.
func watch(test func(t simtest.T)) (said []string) {
	s := &spy{}
	func() {
		defer func() {
			if v := recover(); v != nil && v != errFatal {
				panic(v)
			}
		}()
		test(s)
	}()
	for _, f := range slices.Backward(s.cleanup) {
		f()
	}
	return s.said
}

func client(t *testing.T, s *simtest.Site, community string) *gosnmp.GoSNMP {
	t.Helper()
	at, err := net.ResolveUDPAddr("udp", s.SNMP)
	if err != nil {
		t.Fatal(err)
	}
	g := &gosnmp.GoSNMP{Target: at.IP.String(), Port: uint16(at.Port), Community: community, Version: gosnmp.Version2c, Timeout: 5 * time.Second, Retries: 2}
	if err := g.Connect(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { g.Conn.Close() })
	return g
}

func number(t *testing.T, g *gosnmp.GoSNMP, oid string) int64 {
	t.Helper()
	p, err := g.Get([]string{oid})
	if err != nil {
		t.Fatal(err)
	}
	return gosnmp.ToBigInt(p.Variables[0].Value).Int64()
}

const (
	secondsOnBattery = ".1.3.6.1.2.1.33.1.2.2.0"
	outputSource     = ".1.3.6.1.2.1.33.1.4.1.0"
	shutdownAfter    = ".1.3.6.1.2.1.33.1.8.2.0"
)

// Time is the test's: the card answers by it, over a real socket.
func TestTimeIsTheTests(t *testing.T) {
	t.Parallel()
	s := simtest.Start(t, simtest.Text(site))
	card := client(t, s, "look")
	if now := s.Now(); now != 0 {
		t.Errorf("at the start: %v", now)
	}
	s.Advance(time.Minute)
	s.Inject(`source = "lost"`)
	for n := range 5 {
		if got := number(t, card, secondsOnBattery); got != int64(10*n) {
			t.Errorf("%d s on battery after %d", got, 10*n)
		}
		s.Advance(10 * time.Second)
	}
	s.WaitFor("battery.charge_pct < 98", time.Hour)
	if state := s.Snapshot(); state.Battery.ChargePct < 97.9 || state.Battery.ChargePct >= 98 || state.UPS.Source != "battery" || state.TimeS != s.Now().Seconds() {
		t.Errorf("%+v at %v", state.Battery, s.Now())
	}
	if !s.Holds("ups.on_battery") || s.Holds("hosts.db.state == 'stopped'") || s.Until("hosts_cut > 0", time.Second) {
		t.Error("what holds does not, or the other way round")
	}
	var seen bool
	for _, o := range s.Observations() {
		seen = seen || o.At == time.Minute && o.Subject == "source" && o.FedBy == "battery"
	}
	if v := s.Verdict(); !seen || len(v) != 1 || v[0].State != sim.Open {
		t.Errorf("observed %v; %+v", s.Observations(), v)
	}
}

// What a client writes happens at the instant at which the test has time stand.
func TestWritesHappenNow(t *testing.T) {
	t.Parallel()
	s := simtest.Start(t, simtest.Text(site), simtest.Unjudged())
	s.Advance(90 * time.Second)
	p, err := client(t, s, "touch").Set([]gosnmp.SnmpPDU{{Name: shutdownAfter, Type: gosnmp.Integer, Value: 30}})
	if err != nil || p.Error != gosnmp.NoError {
		t.Fatal(p, err)
	}
	s.WaitFor("not ups.output_on", time.Hour)
	if s.Now() != 2*time.Minute {
		t.Errorf("off at %v", s.Now())
	}
	if v := s.Verdict(); v[0].State != sim.Missed || v[0].At < 2*time.Minute && v[0].At > 2*time.Minute+time.Second {
		t.Errorf("%+v", v)
	}
	if r := s.Close(); r.Met() || s.Close() != r {
		t.Errorf("%+v", r.Verdicts)
	}
}

// Time that runs goes on while the test waits.
func TestTimeThatRuns(t *testing.T) {
	t.Parallel()
	s := simtest.Start(t, simtest.Text(site), simtest.Running(600))
	s.WaitFor("t_s > 60", time.Hour)
	s.Pause()
	at := s.Now()
	if at <= time.Minute || s.Now() != at {
		t.Errorf("at %v, then at %v", at, s.Now())
	}
	s.Advance(time.Second)
	s.Resume(3600)
	s.WaitFor("t_s > 120", time.Hour)
	if s.Now() < 2*time.Minute {
		t.Errorf("at %v", s.Now())
	}
}

func TestSources(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "site.toml")
	if err := os.WriteFile(path, []byte(site), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, from := range map[string]simtest.Source{
		"file": simtest.File(path), "text": simtest.Text(site), "default": simtest.Default(),
		"fs": simtest.FS(fstest.MapFS{"sites/one.toml": {Data: []byte(site)}}, "sites/one.toml"),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := simtest.Start(t, from, simtest.Unjudged(), simtest.Seed(9))
			s.Advance(time.Minute)
			if r := s.Close(); r.Seed != 9 || r.Ended != time.Minute {
				t.Errorf("seed %d, ended at %v", r.Seed, r.Ended)
			}
		})
	}
}

// Many sites at once do not meet, and the same that is done to each comes to the same.
func TestParallelSites(t *testing.T) {
	t.Parallel()
	var traces [8]strings.Builder
	t.Run("all", func(t *testing.T) {
		for i := range traces {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				s := simtest.Start(t, simtest.Text(site), simtest.Unjudged(), simtest.Serve(func(o *sim.ServeOptions) { o.Trace = &traces[i] }))
				s.Inject(`source = "lost"`)
				s.WaitFor("hosts_cut > 0", time.Hour)
			})
		}
	})
	for i := range traces {
		if got := traces[i].String(); got != traces[0].String() || !strings.Contains(got, "host db") {
			t.Errorf("site %d:\n%s", i, got)
		}
	}
}

// What was not met fails the test with how it came to that.
func TestFailureIsReported(t *testing.T) {
	outage := func(s *simtest.Site) {
		s.Inject(`source = "lost"`)
		s.Advance(45 * time.Minute)
	}
	said := watch(func(t simtest.T) { outage(simtest.Start(t, simtest.Text(site), simtest.Variant("heavy"))) })
	want := regexp.MustCompile(`(?s)^simtest: scenario.toml: expectations were not met
missed       it is never cut: it held at 0:\d\d:\d\d.\d{3}: hosts.db.cuts = 1
             claimed: never hosts.db.cuts > 0
before that:
.* source: 0.0 V.* host db: .*
0 of 1 expectations met, 1 missed, 0 not reached; ended at 0:45:00.000
$`)
	if len(said) != 1 || !want.MatchString(said[0]) {
		t.Errorf("said %q", said)
	}
	if n := strings.Count(said[0], "\n"); n > 20 {
		t.Errorf("%d lines are not short", n)
	}
	if said := watch(func(t simtest.T) { outage(simtest.Start(t, simtest.Text(site))) }); len(said) != 0 {
		t.Errorf("of what was met: %q", said)
	}
	if said := watch(func(t simtest.T) {
		outage(simtest.Start(t, simtest.Text(site), simtest.Variant("heavy"), simtest.Unjudged()))
	}); len(said) != 0 {
		t.Errorf("unjudged: %q", said)
	}
}

// What cannot be done ends the test with one line.
func TestBadUse(t *testing.T) {
	for _, c := range []struct {
		do   func(t simtest.T)
		want string
	}{
		{func(t simtest.T) { simtest.Start(t, simtest.File("nosuch.toml")) }, "simtest: cannot read nosuch.toml: no such file or directory"},
		{func(t simtest.T) { simtest.Start(t, simtest.Text("nosuch = 1")) }, "simtest: scenario.toml:1:1: "},
		{func(t simtest.T) { simtest.Start(t, simtest.FS(fstest.MapFS{}, "x.toml")) }, "simtest: open x.toml: file does not exist"},
		{func(t simtest.T) { simtest.Start(t, simtest.Text(site), simtest.Variant("nosuch")) }, `simtest: scenario.toml:1:1: the file has no variant "nosuch"; expected one of heavy`},
		{func(t simtest.T) { simtest.Start(t, simtest.Text("title = 'x'\nrun_for = '1m'\n[fleet]\ncount = 3")) }, "simtest: scenario.toml: it is a fleet of 3 devices, not one site"},
		{func(t simtest.T) { simtest.Start(t, simtest.Text(site), simtest.Running(1e9)) }, "simtest: "},
		{func(t simtest.T) { simtest.Start(t, simtest.Text(site)).Inject("source = 1") }, "simtest: cannot inject: entry:1:10: "},
		{func(t simtest.T) { simtest.Start(t, simtest.Text(site)).WaitFor("hosts.web.cuts > 0", 1) }, "simtest: cannot wait: condition:1:7: "},
		{func(t simtest.T) { simtest.Start(t, simtest.Text(site)).WaitFor("", time.Hour) }, "simtest: cannot wait: the condition is empty"},
		{func(t simtest.T) { simtest.Start(t, simtest.Text(site)).WaitFor("hosts_cut > 0", time.Minute) },
			"simtest: hosts_cut > 0 did not hold within 1m0s, by 1m0s: hosts_cut = 0"},
		{func(t simtest.T) { simtest.Start(t, simtest.Text(site)).Advance(-1) }, "simtest: cannot advance by -1ns: -1ns: expected a duration that is not negative"},
		{func(t simtest.T) { simtest.Start(t, simtest.Text(site)).Resume(0.01) }, "simtest: cannot resume: speed 0.01: expected 0.1 to 3600"},
		{func(t simtest.T) {
			s := simtest.Start(t, simtest.Text(site))
			s.Close()
			s.Advance(1)
		}, "simtest: cannot advance by 1ns: the session has ended"},
	} {
		if said := watch(c.do); len(said) == 0 || !strings.HasPrefix(said[0], c.want) || strings.Contains(said[0], "\n") {
			t.Errorf("said %q, want %q", said, c.want)
		}
	}
}
