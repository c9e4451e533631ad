package simtest_test

import (
	"fmt"
	"net"
	"slices"
	"strconv"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/simtest"
)

// manager is the software under test: it watches a UPS over SNMP and stops a machine
// while there is time.
type manager struct {
	card     *gosnmp.GoSNMP
	stopWhen int64  // minutes that remain
	stop     func() // tells the machine
	stopped  bool
}

func newManager(address, community string, stopWhen int64, stop func()) *manager {
	host, port, _ := net.SplitHostPort(address)
	n, _ := strconv.Atoi(port)
	card := &gosnmp.GoSNMP{
		Target: host, Port: uint16(n), Community: community, Version: gosnmp.Version2c, Timeout: 5 * time.Second, Retries: 1,
	}
	if err := card.Connect(); err != nil {
		panic(err)
	}
	return &manager{card: card, stopWhen: stopWhen, stop: stop}
}

func (m *manager) close() { m.card.Conn.Close() }

// poll looks once: upsEstimatedMinutesRemaining and upsOutputSource of RFC 1628.
func (m *manager) poll() {
	answer, err := m.card.Get([]string{".1.3.6.1.2.1.33.1.2.3.0", ".1.3.6.1.2.1.33.1.4.1.0"})
	if err != nil {
		panic(err)
	}
	const battery = 5
	minutes, source := answer.Variables[0].Value.(int), answer.Variables[1].Value.(int)
	if source == battery && int64(minutes) <= m.stopWhen && !m.stopped {
		m.stop()
		m.stopped = true
	}
}

const database = `
title = "A database on a small UPS"
seed = 5
run_for = "45m"

[card]
read_community = "look"

[[host]]
name = "db"
draw_w = 1200
stop_takes = "2m"

[[expect]]
name = "the database is never cut"
that = "hosts.db.cuts > 0"
never = true
`

// outage plays the same outage to a manager, a look every ten seconds.
func outage(t simtest.T, stopWhen int64) {
	site := simtest.Start(t, simtest.Text(database))
	m := newManager(site.SNMP, site.ReadCommunity, stopWhen, func() {
		fmt.Printf("%v: the manager stops the database\n", site.Now())
		site.Inject("host = \"db\"\norder = \"stop\"")
	})
	defer m.close()
	site.Advance(time.Minute)
	site.Inject(`source = "lost"`)
	for site.Now() < 15*time.Minute && site.Holds("card.state == 'running'") { // it goes off with the battery
		m.poll()
		site.Advance(10 * time.Second)
	}
	fmt.Printf("%v: the database is %s\n", site.Now(), site.Snapshot().Hosts[0].State)
}

// A manager that meets the expectation of its scenario: it stops the database, which
// takes two minutes for that, when five minutes are left.
func Example() {
	t := &printer{} // in a test: its *testing.T
	defer t.end()
	outage(t, 5)
	// Output:
	// 4m40s: the manager stops the database
	// 15m0s: the database is stopped
}

// One that waits until the last minute misses it, and the test fails with how it came
// to that.
func Example_missed() {
	t := &printer{}
	defer t.end()
	outage(t, 1)
	// Output:
	// 8m40s: the manager stops the database
	// 10m40s: the database is cut
	// simtest: scenario.toml: expectations were not met
	// missed       the database is never cut: it held at 0:10:37.019: hosts.db.cuts = 1
	//              claimed: never hosts.db.cuts > 0
	// before that:
	//  0:01:00.000  battery  100.0 %  input: bad 0.0 V 0.00 Hz
	//  0:01:00.000  battery  100.0 %  output: battery after a gap of 6 ms
	//  0:01:00.000  battery  100.0 %  alarm: on_battery, input_bad raised
	//  0:05:37.015  battery   85.2 %  alarm: low_battery raised
	//  0:08:40.000  battery   74.9 %  host db: stopping
	//  0:10:32.018  battery   68.4 %  alarm: shutdown_imminent raised
	//  0:10:36.018  battery   68.2 %  alarm: depleted_battery raised
	//  0:10:37.019  none      68.1 %  output: off: the battery is exhausted
	//  0:10:37.019  none      68.1 %  ups: system off
	//  0:10:37.019  none      68.1 %  group outlets: off
	//  0:10:37.019  none      68.1 %  host db: cut
	//  0:10:37.019  none      68.1 %  card: off: no supply
	// 0 of 1 expectations met, 1 missed, 0 not reached; ended at 0:10:40.000
}

// printer stands for a *testing.T, which an example has not: it prints what would fail
// the test.
type printer struct{ cleanup []func() }

func (*printer) Helper()                           {}
func (*printer) Logf(string, ...any)               {}
func (*printer) Errorf(format string, args ...any) { fmt.Printf(format+"\n", args...) }
func (*printer) Fatalf(format string, args ...any) { panic(fmt.Sprintf(format, args...)) }
func (p *printer) Cleanup(f func())                { p.cleanup = append(p.cleanup, f) }

func (p *printer) end() {
	for _, f := range slices.Backward(p.cleanup) {
		f()
	}
}
