package sim_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
	"ridethrough/sim/internal/checks"
)

const served = `
title = "served"
seed = 21
run_for = "24h"
[card]
must_change_password = false
read_community = "look"
write_community = "touch"
receivers = [{ to = "198.51.100.20:162", version = "v2c", community = "tell" }]
[[host]]
name = "db"
draw_w = 900
stop_takes = "60s"
boot_takes = "20s"
[[expect]]
name = "never cut"
that = "hosts_cut > 0"
never = true
`

// card is a served scenario and the way to it.
type card struct {
	t      *testing.T
	ready  record
	reader *gosnmp.GoSNMP // one connection for all polls
	cancel context.CancelFunc
	done   chan outcome
}

type outcome struct {
	result *sim.Result
	err    error
}

type record struct {
	Ready     bool
	Sinks     []struct{ Name, Endpoint string }
	Endpoints struct{ SNMP, SSH, Bench, Serial string }
	Token     string   `json:"bench_token"`
	Users     []string `json:"snmp_users"`
	Label     label
	Units     []struct {
		Name      string
		Endpoints struct{ SNMP, SSH, Serial string }
		Community string `json:"read_community"`
		Label     label
	}
}

type label struct {
	SerialNumber string `json:"serial_number"`
	User         string
	Password     string
}

// readyLine delivers the first line that is written to it.
type readyLine struct {
	once sync.Once
	ch   chan []byte
}

func (r *readyLine) Write(p []byte) (int, error) {
	line := bytes.Clone(p)
	r.once.Do(func() { r.ch <- line })
	return len(p), nil
}

// longest is how long a test of a served card may take on the slowest of machines.
const longest = 5 * time.Minute

func serveText(t *testing.T, text string, opts sim.ServeOptions) *card {
	t.Helper()
	s, err := sim.Parse(filepath.Join(t.TempDir(), "served.toml"), []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	checks.EndsWithin(t, longest)
	line := &readyLine{ch: make(chan []byte, 1)}
	opts.Ready = line
	opts.Log = func(s string) { t.Log(s) }
	c := &card{t: t, cancel: cancel, done: make(chan outcome, 1)}
	go func() {
		result, err := sim.Serve(ctx, s, opts)
		c.done <- outcome{result, err}
	}()
	select {
	case b := <-line.ch:
		if err := json.Unmarshal(b, &c.ready); err != nil {
			t.Fatal(err)
		}
	case o := <-c.done:
		cancel()
		t.Fatalf("ended before it was ready: %v", o.err)
	}
	t.Cleanup(func() { cancel(); checks.NoLeaks(t) })
	return c
}

func (c *card) end() *sim.Result {
	c.t.Helper()
	c.cancel()
	o := <-c.done
	if o.err != nil {
		c.t.Fatal(o.err)
	}
	return o.result
}

func (c *card) snmp(community string) *gosnmp.GoSNMP {
	c.t.Helper()
	host, port, _ := net.SplitHostPort(c.ready.Endpoints.SNMP)
	n, _ := strconv.Atoi(port)
	g := &gosnmp.GoSNMP{
		Target: host, Port: uint16(n), Community: community, Version: gosnmp.Version2c,
		Timeout: 5 * time.Second, Retries: 3,
	}
	if err := g.Connect(); err != nil {
		c.t.Fatal(err)
	}
	c.t.Cleanup(func() { g.Conn.Close() })
	return g
}

func (c *card) number(oid string) int64 {
	c.t.Helper()
	if c.reader == nil {
		c.reader = c.snmp("look")
	}
	p, err := c.reader.Get([]string{oid})
	if err != nil {
		c.t.Fatal(err)
	}
	return gosnmp.ToBigInt(p.Variables[0].Value).Int64()
}

// until polls, as a client does, until oid has the value.
func (c *card) until(oid string, want int64) {
	c.t.Helper()
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); {
		if c.number(oid) == want {
			return
		}
	}
	c.t.Fatalf("%s never became %d", oid, want)
}

func (c *card) send(entry string) (int, string) { c.t.Helper(); return c.sendTo("/v1/send", entry) }

func (c *card) sendTo(path, entry string) (int, string) {
	c.t.Helper()
	req, _ := http.NewRequest("POST", "http://"+c.ready.Endpoints.Bench+path, strings.NewReader(entry))
	req.Header.Set("Authorization", "Bearer "+c.ready.Token)
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	resp, err := client.Do(req)
	if err != nil {
		c.t.Fatal(err)
	}
	defer resp.Body.Close()
	var body bytes.Buffer
	body.ReadFrom(resp.Body)
	return resp.StatusCode, body.String()
}

const (
	outputSource  = ".1.3.6.1.2.1.33.1.4.1.0"
	shutdownAfter = ".1.3.6.1.2.1.33.1.8.2.0"
	sysDescr      = ".1.3.6.1.2.1.1.1.0"
)

func TestServedCardAnswersAndObeysTheBench(t *testing.T) {
	c := serveText(t, served, sim.ServeOptions{Speed: 60})
	p, err := c.snmp("look").Get([]string{sysDescr})
	if err != nil || !strings.Contains(string(p.Variables[0].Value.([]byte)), "SIMULATION") {
		t.Fatalf("sysDescr %v, %v", p, err)
	}
	if code, body := c.send(`source = "lost"`); code != 200 {
		t.Fatalf("send: %d %s", code, body)
	}
	c.until(outputSource, 5)
	if code, body := c.send(`source = "gone"`); code != 400 || !strings.Contains(body, "source") {
		t.Errorf("a wrong entry: %d %s", code, body)
	}
	c.send(`source = "normal"`)
	c.until(outputSource, 3)
	result := c.end()
	if !result.Interrupted || !result.Met() {
		t.Errorf("interrupted %v, met %v", result.Interrupted, result.Met())
	}
}

func TestServedCardCanBeSwitchedOffOverSNMP(t *testing.T) {
	c := serveText(t, served, sim.ServeOptions{Speed: 60})
	set := []gosnmp.SnmpPDU{{Name: shutdownAfter, Type: gosnmp.Integer, Value: 5}}
	if p, err := c.snmp("look").Set(set); err != nil || p.Error == gosnmp.NoError {
		t.Errorf("the read community may write: %v %v", p, err)
	}
	if p, err := c.snmp("touch").Set(set); err != nil || p.Error != gosnmp.NoError {
		t.Fatalf("set: %v %v", p, err)
	}
	c.until(outputSource, 2)
	result := c.end()
	if result.Met() || result.Failed()[0] != "never cut" {
		t.Errorf("the host was cut, but the verdict is %+v", result.Verdicts)
	}
}

func TestReceiverGetsTheOnBatteryNotification(t *testing.T) {
	sink, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	defer sink.Close()
	c := serveText(t, served, sim.ServeOptions{Speed: 60, Receivers: map[netip.AddrPort]string{
		netip.MustParseAddrPort("198.51.100.20:162"): sink.LocalAddr().String(),
	}})
	c.send(`source = "lost"`)
	kinds := map[string]int{}
	buf := make([]byte, 4096)
	sink.SetReadDeadline(time.Now().Add(time.Minute))
	for kinds[".1.3.6.1.2.1.33.2.1"] < 2 { // the first, and its repeat after a minute
		n, err := sink.Read(buf)
		if err != nil {
			t.Fatalf("got %v, then %v", kinds, err)
		}
		p, err := (&gosnmp.GoSNMP{Version: gosnmp.Version2c}).UnmarshalTrap(buf[:n], false)
		if err != nil || p.Community != "tell" {
			t.Fatalf("notification %v, %v", p, err)
		}
		kinds[fmt.Sprint(p.Variables[1].Value)]++
	}
	if kinds[".1.3.6.1.6.3.1.1.5.1"] != 1 {
		t.Errorf("notifications %v, want one coldStart", kinds)
	}
	c.end()
}

func TestJournalOfALiveSessionReplays(t *testing.T) {
	var journal, trace bytes.Buffer
	c := serveText(t, served, sim.ServeOptions{Speed: 120, Journal: &journal, Trace: &trace})
	c.send(`source = "lost"`)
	c.until(outputSource, 5)
	wrong := c.snmp("wrong")
	wrong.Timeout, wrong.Retries = 100*time.Millisecond, 0
	wrong.Get([]string{sysDescr})
	c.snmp("touch").Set([]gosnmp.SnmpPDU{{Name: shutdownAfter, Type: gosnmp.Integer, Value: 30}})
	c.until(outputSource, 2)
	c.end()
	path := replaysAlike(t, &journal, &trace)
	// A journal that says the output was told later does not come to the same.
	bad := bytes.Replace(journal.Bytes(), []byte(`"int":30`), []byte(`"int":31`), 1)
	os.WriteFile(path, bad, 0o600)
	var mismatch *sim.MismatchError
	if _, err := sim.Replay(path, sim.ReplayOptions{}); !errors.As(err, &mismatch) {
		t.Errorf("a changed journal replays: %v", err)
	}
}

// replaysAlike checks that the journal of a session comes to the session's trace again, and
// is the file of it.
func replaysAlike(t *testing.T, journal, trace *bytes.Buffer) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "session.journal")
	if err := os.WriteFile(path, journal.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	var again bytes.Buffer
	if _, err := sim.Replay(path, sim.ReplayOptions{Trace: &again}); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(trace.Bytes(), again.Bytes()) {
		t.Errorf("the replayed trace differs:\n%s\n---\n%s", trace.String(), again.String())
	}
	return path
}

func TestServeRefusesWhatItMustNotBind(t *testing.T) {
	s, err := sim.Parse("served.toml", []byte(served))
	if err != nil {
		t.Fatal(err)
	}
	busy, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer busy.Close()
	var io *sim.IOError
	var invalid *sim.InvalidError
	for _, opts := range []sim.ServeOptions{
		{SSH: busy.Addr().String()}, {Bench: busy.Addr().String()}, {SNMP: "127.0.0.1:no-port"},
		{Program: []string{"./no-such-program"}}, {ReadyFile: "/no/such/folder/ready"},
	} {
		if _, err := sim.Serve(context.Background(), s, opts); !errors.As(err, &io) {
			t.Errorf("%+v: %v, want an IOError", opts, err)
		}
	}
	for _, opts := range []sim.ServeOptions{{SNMP: "0.0.0.0:0"}, {SSH: ":0"}, {Bench: "192.0.2.1:0"}} {
		if _, err := sim.Serve(context.Background(), s, opts); !errors.As(err, &invalid) {
			t.Errorf("%+v: %v, want an InvalidError", opts, err)
		}
	}
	checks.NoLeaks(t)
}

func TestProgramEndsTheSession(t *testing.T) {
	s, err := sim.Parse("served.toml", []byte(served))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	result, err := sim.Serve(context.Background(), s, sim.ServeOptions{
		Program:  []string{"sh", "-c", `test -n "$RIDETHROUGH_SNMP" && test -n "$RIDETHROUGH_TOKEN" && echo started`},
		Programs: &out,
	})
	if err != nil || result.Interrupted || out.String() != "started\n" {
		t.Errorf("result %+v, error %v, output %q", result, err, out.String())
	}
	checks.NoLeaks(t)
}

// guarded sleeps for times that nobody else on this machine does.
const guarded = `
title = "guarded"
run_for = "60s"
[[host]]
name = "app"
draw_w = 100
process = ["sh", "-c", "setsid sleep 611.PID & echo up; sleep 612.PID"]
[[expect]]
name = "it runs at the end"
that = "hosts.app.state == 'running'"
at = "end"
[[expect]]
name = "it is never cut"
that = "hosts.app.cuts > 0"
never = true
`

// What a host's program has sent into the background does not hold the session
// up, nor outlive it; PROGRAM and the hosts may share one writer.
func TestNothingOutlivesTheSession(t *testing.T) {
	own := fmt.Sprint(os.Getpid())
	s, err := sim.Parse(filepath.Join(t.TempDir(), "guarded.toml"), []byte(strings.ReplaceAll(guarded, "PID", own)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	result, err := sim.Serve(context.Background(), s, sim.ServeOptions{
		Speed: 15, Programs: &out, Program: []string{"sh", "-c", "sleep 613." + own + " & echo started; wait"},
	})
	if err != nil || !result.Met() || result.Interrupted {
		t.Fatalf("%+v, %v", result, err)
	}
	if text := out.String(); !strings.Contains(text, "app: up\n") || !strings.Contains(text, "started\n") {
		t.Errorf("output %q", text)
	}
	for _, n := range []string{"611." + own, "612." + own, "613." + own} {
		for deadline := time.Now().Add(30 * time.Second); sleeps(n); {
			if time.Now().After(deadline) {
				t.Errorf("sleep %s still runs", n)
				break
			}
		}
	}
	checks.NoLeaks(t)
}

// sleeps says whether a process "sleep n" runs.
func sleeps(n string) bool {
	files, _ := filepath.Glob("/proc/[0-9]*/cmdline")
	for _, file := range files {
		if line, err := os.ReadFile(file); err == nil && string(line) == "sleep\x00"+n+"\x00" {
			return true
		}
	}
	return false
}

// What happens after the end of the plan, with Keep, is not judged any more.
func TestKeepDoesNotChangeTheVerdict(t *testing.T) {
	c := serveText(t, strings.Replace(served, `"24h"`, `"2s"`, 1), sim.ServeOptions{Speed: 20, Keep: true})
	for c.number(".1.3.6.1.2.1.1.3.0") < 300 { // sysUpTime, past the end
	}
	c.snmp("touch").Set([]gosnmp.SnmpPDU{{Name: shutdownAfter, Type: gosnmp.Integer, Value: 0}})
	c.until(outputSource, 2)
	result := c.end()
	if !result.Met() || result.Interrupted {
		t.Errorf("met %v, interrupted %v: %+v", result.Met(), result.Interrupted, result.Verdicts)
	}
}

// An interruption is where it happens, not at the grid point before it.
func TestInterruptionIsWhereItHappens(t *testing.T) {
	c := serveText(t, served, sim.ServeOptions{Speed: 60})
	for c.number(".1.3.6.1.2.1.1.3.0") < 3000 { // half a minute at rest, within a grid step
	}
	if result := c.end(); result.Ended < 30*time.Second || result.Ended%time.Minute == 0 {
		t.Errorf("ended at %v", result.Ended)
	}
}
