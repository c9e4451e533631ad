package sim_test

import (
	"bytes"
	"fmt"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
	"ridethrough/sim/internal/core/quirk"
	"ridethrough/sim/internal/core/snap"
)

const quirky = `
title = "quirky"
seed = 21
run_for = "240h"
[card]
serial_number = "SN-%d"
read_community = "look"
write_community = "touch"
boot_takes = "2s"
address = "192.0.2.10/24"
must_change_password = false
receivers = [{ to = "198.51.100.20:162", version = "v2c", community = "tell" }]
[[card.snmp_user]]
name = "watch"
auth = "sha-256"
auth_password = "first passphrase"
priv = "aes-128"
priv_password = "second passphrase"
[card.settings]
"reach.ipv6" = "auto"
"access.allow.near.service" = "snmp"
"access.allow.near.network" = "192.0.2.0/24"
[network]
prefix6 = "2001:db8:1::/64"
[[peer]]
name = "six"
address = "2001:db8:9::1/64"
[[probe]]
name = "inlet"
high_critical_c = 45
[battery]
strings = 12
[[host]]
name = "db"
draw_w = 200
`

// noticing is how a correct client notices a quirk.
type noticing struct {
	settings string                 // beside the name
	outage   bool                   // the unit is on battery
	check    func(c *client) string // what is wrong, "" if nothing is
}

// noticed has every quirk.
var noticed = map[snap.QuirkKind]noticing{
	snap.QuirkScaledUp:         {settings: `objects = ["upsOutputVoltage"]`, check: (*client).outputIsAsRated},
	snap.QuirkScaledDown:       {settings: `objects = ["upsOutputVoltage"]`, check: (*client).outputIsAsRated},
	snap.QuirkRuntimeInSeconds: {check: (*client).runtimeIsPlausible},
	snap.QuirkRuntimeZero:      {check: (*client).runtimeIsPlausible},
	snap.QuirkRuntimeMinusOne:  {check: (*client).runtimeIsPlausible},
	snap.QuirkConstant:         {settings: `objects = ["upsSecondsOnBattery"], value = 7`, check: (*client).timeOnBatteryFitsSource},
	snap.QuirkFrozen:           {outage: true, settings: `objects = ["upsSecondsOnBattery"]`, check: (*client).timeOnBatteryRuns},
	snap.QuirkStale:            {outage: true, settings: `objects = ["upsSecondsOnBattery"], lasts = "20s"`, check: (*client).timeOnBatteryRuns},
	snap.QuirkAbsent:           {settings: `objects = ["upsEstimatedChargeRemaining"]`, check: (*client).chargeIsThere},
	snap.QuirkZeroPhaseRows:    {check: (*client).asManyRowsAsLines},
	snap.QuirkPaddedAlarms:     {check: (*client).asManyRowsAsAlarms},
	snap.QuirkUnlistedAlarms:   {outage: true, settings: `alarms = ["on_battery"]`, check: (*client).sourceFitsAlarms},
	snap.QuirkUnknownCode:      {check: (*client).sourceIsKnown},
	snap.QuirkFahrenheit:       {check: (*client).probeFitsItsLimits},
	snap.QuirkUptimeStepsBack:  {check: (*client).upTimeFitsEngine},
	snap.QuirkUptimeNearWrap:   {check: (*client).upTimeFitsEngine},

	snap.QuirkNoBulk:         {check: (*client).bulkFills},
	snap.QuirkOneRowBulk:     {check: (*client).bulkFills},
	snap.QuirkTooBigAbove:    {check: (*client).fiveAtOnce},
	snap.QuirkSilentAbove:    {check: (*client).fiveAtOnce},
	snap.QuirkTruncated:      {check: (*client).answers},
	snap.QuirkMalformed:      {check: (*client).answers},
	snap.QuirkWrongRequestID: {check: (*client).answers},
	snap.QuirkWrongSource:    {check: (*client).answersFromItsAddress},
	snap.QuirkDuplicated:     {check: (*client).answersInOrder},
	snap.QuirkReordered:      {settings: `percent = 100, delay = "10s"`, check: (*client).answersInOrder},

	snap.QuirkListOfV4: {check: (*client).keepsStrangersOut},

	snap.QuirkSlowObjects: {settings: `delay = "400ms"`, check: (*client).answersSoon},
	snap.QuirkOneAtATime:  {settings: `count = 0, delay = "1s"`, check: (*client).takesTwo},
	snap.QuirkHung:        {check: (*client).answers},
	snap.QuirkLossy:       {settings: `percent = 50`, check: (*client).losesNone},

	snap.QuirkBootsNotKept:    {check: (*client).bootsRise},
	snap.QuirkEngineTimeStuck: {check: (*client).engineTimeRuns},
	snap.QuirkSharedEngineID:  {check: (*client).enginesDiffer},

	snap.QuirkOnBatteryOnce: {outage: true, check: (*client).onBatteryIsRepeated},
	snap.QuirkNoAllClear:    {check: (*client).alarmIsCleared},
	snap.QuirkNoInstance:    {check: (*client).notificationNamesInstances},
	snap.QuirkStorm:         {check: (*client).oneNotificationEach},
	snap.QuirkNoPause:       {check: (*client).notificationsKeepApart},

	snap.QuirkWrongAgentAddress: {check: (*client).trapNamesItsSender},

	snap.QuirkCountersNotKept: {check: (*client).failuresGoOn},
	snap.QuirkHalfAwake:       {settings: `lasts = "1h"`, check: (*client).knowsItsUnitAfterRestart},
}

// TestEveryQuirkIsNoticed: a correct client notices every quirk of the catalogue, and
// nothing where there is none. In the end the trace has them all, and the journal of
// the session gives it again.
func TestEveryQuirkIsNoticed(t *testing.T) {
	var journal, trace bytes.Buffer
	c := newClient(t, sim.ServeOptions{Speed: 100, Journal: &journal, Trace: &trace})
	for _, e := range quirk.All() {
		n, ok := noticed[e.Kind]
		if !ok {
			t.Errorf("nobody notices %v", e.Kind)
			continue
		}
		t.Run(e.Kind.String(), func(t *testing.T) { c.notices(t, e.Kind.String(), n) })
	}
	c.close()
	for _, e := range quirk.All() {
		if !strings.Contains(trace.String(), "quirk: "+e.Kind.String()+" acted") {
			t.Errorf("the trace does not have it that %v acted", e.Kind)
		}
	}
	file := filepath.Join(t.TempDir(), "journal")
	if err := os.WriteFile(file, journal.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	var again bytes.Buffer
	if _, err := sim.Replay(file, sim.ReplayOptions{Trace: &again}); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(trace.String(), again.String()); diff != "" {
		t.Errorf("the replay differs:\n%s", diff)
	}
}

func (c *client) notices(t *testing.T, name string, n noticing) {
	c.source(n.outage)
	c.patience(long)
	if wrong := n.check(c); wrong != "" {
		t.Fatalf("before: %s", wrong)
	}
	settings := strings.TrimSuffix(fmt.Sprintf(`name = "%s", %s`, name, n.settings), ", ")
	c.must("quirk = { " + settings + " }")
	c.patience(short)
	wrong := n.check(c)
	if wrong == "" {
		t.Error("nothing is noticed")
	}
	c.must(fmt.Sprintf(`quirk = { name = "%s", off = true }`, name))
	c.patience(long)
	if wrong := n.check(c); wrong != "" {
		t.Errorf("after: %s", wrong)
	}
}

// Time-outs: a quirk that has a reply not come costs a short one; where there is none
// the machine may be as slow as it likes.
const (
	short = 500 * time.Millisecond
	long  = 20 * time.Second
)

func (c *client) patience(timeout time.Duration) { c.once.Timeout, c.timeout = timeout, timeout }

// client is correct client software with a card, another card beside it, and a
// receiver of notifications.
type client struct {
	*card
	other   *card
	sure    *gosnmp.GoSNMP // repeats
	once    *gosnmp.GoSNMP // asks once, with the time-out
	poll    *gosnmp.GoSNMP // asks once, while the card may be away
	timeout time.Duration
	raw     *net.UDPConn   // bound to no peer
	at      netip.AddrPort // of the card
	sink    *net.UDPConn
	old     *net.UDPConn // hears SNMPv1 once the card is set to it
	six     *net.UDPConn // of a machine with IPv6 that the access list does not name
	request uint32
}

func newClient(t *testing.T, opts sim.ServeOptions) *client {
	t.Helper()
	local := func(last byte) *net.UDPConn {
		conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, last)})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { conn.Close() })
		return conn
	}
	c := &client{raw: local(1), sink: local(1), old: local(1), six: local(3)}
	opts.Peers = map[string]netip.Addr{"six": netip.AddrFrom4([4]byte{127, 0, 0, 3})}
	opts.Receivers = map[netip.AddrPort]string{netip.MustParseAddrPort("198.51.100.20:162"): c.sink.LocalAddr().String(), netip.MustParseAddrPort("198.51.100.22:162"): c.old.LocalAddr().String()}
	c.card = serveText(t, fmt.Sprintf(quirky, 1), opts)
	c.other = serveText(t, fmt.Sprintf(quirky, 2), sim.ServeOptions{Speed: opts.Speed})
	c.sure, c.once, c.poll = c.snmp("look"), c.snmp("look"), c.snmp("look")
	c.once.Retries = 0
	c.poll.Timeout, c.poll.Retries = 100*time.Millisecond, 0
	c.at = netip.MustParseAddrPort(c.ready.Endpoints.SNMP)
	return c
}

func (c *client) close() {
	c.other.end()
	c.end()
}

// must puts an entry to both cards.
func (c *client) must(entry string) {
	c.t.Helper()
	for _, one := range []*card{c.card, c.other} {
		if code, body := one.send(entry); code != 200 {
			c.t.Fatalf("%s: %d %s", entry, code, body)
		}
	}
}

// source has the mains lost or there, and waits until the card says so.
func (c *client) source(lost bool) {
	word, want := `"normal"`, int64(3)
	if lost {
		word, want = `"lost"`, 5
	}
	c.must("source = " + word)
	c.until(outputSource, want)
}

// get is the numbers of some objects, from one answer.
func (c *client) get(oids ...string) []int64 {
	c.t.Helper()
	p, err := c.sure.Get(oids)
	if err != nil {
		c.t.Fatal(err)
	}
	numbers := make([]int64, len(oids))
	for i, v := range p.Variables {
		numbers[i] = gosnmp.ToBigInt(v.Value).Int64()
	}
	return numbers
}

// rows is what a column has.
func (c *client) rows(column string) []gosnmp.SnmpPDU {
	c.t.Helper()
	list, err := c.sure.WalkAll(column)
	if err != nil {
		c.t.Fatal(err)
	}
	return list
}
