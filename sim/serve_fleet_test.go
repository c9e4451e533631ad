package sim_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
	"ridethrough/sim/internal/checks"
)

const servedFleet = `
title = "served fleet"
seed = 21
run_for = "24h"
[fleet]
count = 50
each = "%s"
[card]
read_community = "look"
write_community = "touch"
receivers = [
  { to = "198.51.100.20:162", community = "tell" },
  { to = "198.51.100.21:162", community = "tell", inform = true, retries = 2, timeout = "20s" },
]
[[card.snmp_user]]
name = "watch"
auth = "sha-256"
auth_password = "first passphrase"
priv = "aes-128"
priv_password = "second passphrase"
[[host]]
name = "db"
draw_w = 900
[[expect]]
name = "never cut"
that = "hosts_cut > 0"
never = true
`

type fleetRecord struct {
	Endpoints struct{ Bench string }
	Token     string `json:"bench_token"`
	Devices   []struct {
		Device    int
		Endpoints struct{ SNMP string }
		Read      string `json:"read_community"`
		Label     struct {
			Serial string `json:"serial_number"`
		}
	}
}

type fleetUnderTest struct {
	*card
	record fleetRecord
	done   chan error
	result *sim.FleetResult
}

func serveFleet(t *testing.T, each string, opts sim.ServeOptions) *fleetUnderTest {
	t.Helper()
	s, err := sim.Parse(filepath.Join(t.TempDir(), "fleet.toml"), fmt.Appendf(nil, servedFleet, each))
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	checks.EndsWithin(t, longest)
	line := &readyLine{ch: make(chan []byte, 1)}
	opts.Ready, opts.Log = line, func(s string) { t.Log(s) }
	f := &fleetUnderTest{card: &card{t: t, cancel: cancel}, done: make(chan error, 1)}
	go func() {
		var err error
		f.result, err = sim.ServeFleet(ctx, s, opts)
		f.done <- err
	}()
	t.Cleanup(func() { cancel(); checks.NoLeaks(t) })
	select {
	case b := <-line.ch:
		if err := json.Unmarshal(b, &f.record); err != nil {
			t.Fatal(err)
		}
	case err := <-f.done:
		t.Fatalf("ended before it was ready: %v", err)
	}
	f.ready.Endpoints.Bench, f.ready.Token = f.record.Endpoints.Bench, f.record.Token
	return f
}

func (f *fleetUnderTest) end() *sim.FleetResult {
	f.t.Helper()
	f.cancel()
	if err := <-f.done; err != nil {
		f.t.Fatal(err)
	}
	return f.result
}

// get asks device i, counted from 0, for one object.
func (f *fleetUnderTest) get(i int, oid string) gosnmp.SnmpPDU {
	f.t.Helper()
	f.ready.Endpoints.SNMP = f.record.Devices[i].Endpoints.SNMP
	g := f.snmp("look")
	defer g.Conn.Close()
	p, err := g.Get([]string{oid})
	if err != nil {
		f.t.Fatalf("device %d: %v", i+1, err)
	}
	return p.Variables[0]
}

// sendTo puts an entry to what the query names.
func (f *fleetUnderTest) sendTo(query, entry string) (int, string) {
	f.t.Helper()
	return f.card.sendTo("/v1/send"+query, entry)
}

// state asks the bench for the state of one device, or of all.
func (f *fleetUnderTest) state(query string, into any) int {
	f.t.Helper()
	req, _ := http.NewRequest("GET", "http://"+f.record.Endpoints.Bench+"/v1/state"+query, nil)
	req.Header.Set("Authorization", "Bearer "+f.record.Token)
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	resp, err := client.Do(req)
	if err != nil {
		f.t.Fatal(err)
	}
	defer resp.Body.Close()
	body, _ := io.ReadAll(resp.Body)
	if err := json.Unmarshal(body, into); err != nil {
		f.t.Fatalf("%s: %v", body, err)
	}
	return resp.StatusCode
}

type sum struct {
	T            float64 `json:"t_s"`
	Devices      int
	OnBattery    int `json:"on_battery"`
	Notified     map[string]int
	Acknowledged map[string]int
	GivenUp      map[string]int `json:"given_up"`
}

// untilSum polls the bench until the sum is right.
func (f *fleetUnderTest) untilSum(what string, right func(sum) bool) {
	f.t.Helper()
	var s sum
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); {
		if f.state("", &s); right(s) {
			return
		}
	}
	f.t.Fatalf("%s: %+v", what, s)
}

const sysName, engineID = ".1.3.6.1.2.1.1.5.0", ".1.3.6.1.6.3.10.2.1.1.0"

// Every device answers at its own address, under its own name and engine ID, and
// over SNMPv3 with keys of its own. An outage of the site is seen by all, one of
// a device by that one.
func TestServedFleet(t *testing.T) {
	for _, each := range []string{"address", "port"} {
		t.Run(each, func(t *testing.T) { checkServedFleet(t, each) })
	}
}

func checkServedFleet(t *testing.T, each string) {
	traps := listenTraps(t)
	informed, stop := sink(t)
	defer stop()
	f := serveFleet(t, each, sim.ServeOptions{Speed: 10, Receivers: map[netip.AddrPort]string{
		netip.MustParseAddrPort("198.51.100.20:162"): traps.conn.LocalAddr().String(),
		netip.MustParseAddrPort("198.51.100.21:162"): informed.LocalAddr().String(),
	}})
	names, engines, hosts := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for i, d := range f.record.Devices {
		names[string(f.get(i, sysName).Value.([]byte))] = true
		engines[string(f.get(i, engineID).Value.([]byte))] = true
		hosts[netip.MustParseAddrPort(d.Endpoints.SNMP).Addr().String()] = true
	}
	want := map[string]int{"address": 50, "port": 1}[each]
	if len(f.record.Devices) != 50 || len(names) != 50 || len(engines) != 50 || len(hosts) != want {
		t.Errorf("%d devices, %d names, %d engines, %d addresses", len(f.record.Devices), len(names), len(engines), len(hosts))
	}
	f.ready.Endpoints.SNMP = f.record.Devices[16].Endpoints.SNMP
	g := f.snmp3()
	defer g.Conn.Close()
	if p, err := g.Get([]string{outputSource}); err != nil || gosnmp.ToBigInt(p.Variables[0].Value).Int64() != 3 {
		t.Errorf("over SNMPv3: %v %v", p, err)
	}

	if code, body := f.sendTo("?device=7", `source = "lost"`); code != 200 {
		t.Fatalf("send: %d %s", code, body)
	}
	f.untilSum("one on battery", func(s sum) bool { return s.OnBattery == 1 })
	if got := gosnmp.ToBigInt(f.get(6, outputSource).Value).Int64(); got != 5 {
		t.Errorf("device 7 shows source %d", got)
	}
	if code, body := f.sendTo("", `source = "lost"`); code != 200 {
		t.Fatalf("send: %d %s", code, body)
	}
	f.untilSum("all on battery", func(s sum) bool { return s.OnBattery == 50 && s.Devices == 50 })
	for i := range f.record.Devices {
		if got := gosnmp.ToBigInt(f.get(i, outputSource).Value).Int64(); got != 5 {
			t.Errorf("device %d shows source %d", i+1, got)
		}
	}
	f.untilSum("informs acknowledged", func(s sum) bool {
		return s.Acknowledged["on_battery"] >= 50 && s.Acknowledged["cold_start"] == 50 && s.GivenUp["on_battery"] == 0
	})
	result := f.end()
	if !result.Interrupted() || !result.Met() || result.Devices() != 50 {
		t.Errorf("interrupted %v, failed %q, %d devices", result.Interrupted(), result.Failed(), result.Devices())
	}
	if got := len(traps.stop()); got != 50 {
		t.Errorf("traps came from %d devices", got)
	}
}

// A write goes to one device and is in force at once.
func TestFleetIsWritten(t *testing.T) {
	f := serveFleet(t, "address", sim.ServeOptions{})
	f.ready.Endpoints.SNMP = f.record.Devices[2].Endpoints.SNMP
	g := f.snmp("touch")
	defer g.Conn.Close()
	if p, err := g.Set([]gosnmp.SnmpPDU{{Name: sysName, Type: gosnmp.OctetString, Value: "third"}}); err != nil || p.Error != gosnmp.NoError {
		t.Fatalf("set: %v %v", p, err)
	}
	if got := string(f.get(2, sysName).Value.([]byte)); got != "third" {
		t.Errorf("device 3 is called %q", got)
	}
	if got := string(f.get(3, sysName).Value.([]byte)); !strings.HasSuffix(got, "-00004") {
		t.Errorf("device 4 is called %q", got)
	}
	// A wrong community is reported and answered by nobody.
	wrong := f.snmp("guess")
	wrong.Retries, wrong.Timeout = 0, 50*time.Millisecond
	defer wrong.Conn.Close()
	if p, err := wrong.Get([]string{sysName}); err == nil {
		t.Errorf("a wrong community was answered: %v", p)
	}
	f.untilSum("one failure of authentication", func(s sum) bool { return s.Notified["auth_failure"] == 1 })
	f.end()
}

func TestFleetBenchRefuses(t *testing.T) {
	f := serveFleet(t, "port", sim.ServeOptions{})
	defer f.end()
	for query, want := range map[string]string{
		"?device=51": `device=\"51\": expected a number from 1 to 50`, "?device=0": "expected a number", "?device=x": "expected a number",
	} {
		if code, body := f.sendTo(query, "output = 'off'"); code != 400 || !strings.Contains(body, want) {
			t.Errorf("%s: %d %s", query, code, body)
		}
	}
	var one struct{ Card struct{ Address string } }
	if code := f.state("?device=50", &one); code != 200 || one.Card.Address != "198.18.0.51/15" {
		t.Errorf("%d %+v", code, one)
	}
	if code, body := f.sendTo("?device=1", `source = "gone"`); code != 400 || !strings.Contains(body, "source") {
		t.Errorf("a wrong entry: %d %s", code, body)
	}
}

// trapListener counts the addresses that traps came from.
type trapListener struct {
	conn *net.UDPConn
	from map[string]int
	done chan struct{}
}

func listenTraps(t *testing.T) *trapListener {
	t.Helper()
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	l := &trapListener{conn: conn, from: map[string]int{}, done: make(chan struct{})}
	go func() {
		defer close(l.done)
		buf := make([]byte, 4096)
		for {
			_, from, err := conn.ReadFromUDPAddrPort(buf)
			if err != nil {
				return
			}
			l.from[from.String()]++
		}
	}()
	return l
}

// stop is the addresses with how many came from each.
func (l *trapListener) stop() map[string]int {
	l.conn.Close()
	<-l.done
	return l.from
}

// Paced by the clock a fleet comes to what it comes to in virtual time, and the
// session ends with the longest run.
func TestServedFleetComesToTheSame(t *testing.T) {
	s := fleetFile(t)
	want, err := sim.RunFleet(s, sim.RunOptions{})
	if err != nil {
		t.Fatal(err)
	}
	got, err := sim.ServeFleet(t.Context(), s, sim.ServeOptions{Speed: 3600, Log: func(string) {}})
	if err != nil {
		t.Fatal(err)
	}
	var a, b strings.Builder
	if err := errors.Join(want.JSON(&a), got.JSON(&b)); err != nil {
		t.Fatal(err)
	}
	if a.String() != b.String() {
		t.Errorf("served:\n%s\nrun:\n%s", b.String(), a.String())
	}
	checks.NoLeaks(t)
}

func TestServeFleetRefusesWhatIsForOneCard(t *testing.T) {
	s := fleetFile(t)
	for name, opts := range map[string]sim.ServeOptions{
		"SSH": {SSH: "127.0.0.1:0"}, "Serial": {Serial: "x"}, "HostKey": {HostKey: "x"}, "Trace": {Trace: io.Discard}, "Journal": {Journal: io.Discard},
	} {
		var invalid *sim.InvalidError
		if _, err := sim.ServeFleet(t.Context(), s, opts); !errors.As(err, &invalid) || !strings.Contains(err.Error(), "SNMP alone") {
			t.Errorf("%s: %v", name, err)
		}
	}
	one, err := s.Device(1)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := sim.ServeFleet(t.Context(), one, sim.ServeOptions{}); err == nil || !strings.Contains(err.Error(), "it is one site, not a fleet") {
		t.Errorf("got %v", err)
	}
}

// TestFleetKeepsItsStarts: snmpEngineBoots of every device is one more in every
// session (RFC 3414 section 2.2), and one more again for a card that restarted;
// whatever else was set is forgotten. Another fleet's folder is refused.
func TestFleetKeepsItsStarts(t *testing.T) {
	const boots, sysContact = ".1.3.6.1.6.3.10.2.1.2.0", ".1.3.6.1.2.1.1.4.0"
	dir := t.TempDir()
	more := map[int]int64{}
	for session := range int64(3) {
		f := serveFleet(t, "port", sim.ServeOptions{State: dir})
		for _, i := range []int{0, 16, 49} {
			if got := gosnmp.ToBigInt(f.get(i, boots).Value).Int64(); got != session+1+more[i] {
				t.Errorf("session %d: device %d has %d boots, and restarted %d times", session+1, i+1, got, more[i])
			}
		}
		if got := f.get(16, sysContact).Value.([]byte); len(got) > 0 {
			t.Errorf("session %d: device 17 still has the contact %q", session+1, got)
		}
		set := f.snmp("touch") // of device 17, which was asked last
		if _, err := set.Set([]gosnmp.SnmpPDU{{Name: sysContact, Type: gosnmp.OctetString, Value: "desk"}}); err != nil {
			t.Error(err)
		}
		set.Conn.Close()
		if status, body := f.sendTo("?device=17", `card = "restart"`); status != 200 {
			t.Error(status, body)
		}
		more[16]++
		f.end()
	}
	s, err := sim.Parse("other.toml", []byte("title = 'x'\nrun_for = '1h'\nseed = 3\n[fleet]\ncount = 2\n"))
	if err != nil {
		t.Fatal(err)
	}
	var state *sim.IOError
	if _, err := sim.ServeFleet(t.Context(), s, sim.ServeOptions{State: dir}); !errors.As(err, &state) || !strings.Contains(err.Error(), "it is the memory of serial number RT") {
		t.Errorf("%v", err)
	}
}
