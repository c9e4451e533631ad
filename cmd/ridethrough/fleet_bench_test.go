package main_test

import (
	"bufio"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

var (
	fleetSize = flag.Int("fleet", 10_000, "devices of BenchmarkFleet")
	fleetRest = flag.Duration("fleet-rest", 30*time.Second, "how long BenchmarkFleet looks at each state")
)

// BenchmarkFleet measures what a served fleet takes, in a process of its own: the
// time until it is ready; memory and processor time at rest, after one request to
// each device in one burst, under load, and in an outage of the whole site with a
// trap from each. Run it once, and alone:
//
//	go test ./cmd/ridethrough -run '^$' -bench Fleet -benchtime 1x [-fleet N]
func BenchmarkFleet(b *testing.B) {
	if runtime.GOOS != "linux" {
		b.Skip("reads /proc")
	}
	for range b.N {
		measureFleet(b, *fleetSize)
	}
}

func measureFleet(b *testing.B, n int) {
	slab := meminfo(b, "Slab")
	traps := newTrapSink(b)
	f := startFleet(b, n, traps.at())
	per := func(kib int) float64 { return float64(kib) / float64(n) }
	b.ReportMetric(f.readyAfter.Seconds(), "s-to-ready")

	cpu := f.busy(b, *fleetRest)
	b.ReportMetric(100*cpu, "%core-idle")
	b.ReportMetric(per(f.rss(b)), "KiB/device-idle")
	b.ReportMetric(per(meminfo(b, "Slab")-slab), "KiB/device-kernel")
	b.ReportMetric(float64(len(traps.seen())), "devices-coldstart")

	lost, took := f.burst(b)
	b.ReportMetric(float64(lost), "lost-in-burst")
	b.ReportMetric(took.Seconds(), "s-burst")
	b.ReportMetric(per(f.rss(b)), "KiB/device-burst")

	rate, p99 := f.load(b, 5*time.Second)
	b.ReportMetric(rate, "requests/s")
	b.ReportMetric(float64(p99.Microseconds()), "us-p99")
	b.ReportMetric(per(f.rss(b)), "KiB/device-loaded")

	traps.reset()
	f.send(b, `source = "lost"`)
	cpu = f.busy(b, *fleetRest)
	b.ReportMetric(100*cpu, "%core-outage")
	b.ReportMetric(per(f.rss(b)), "KiB/device-outage")
	b.ReportMetric(float64(len(traps.seen())), "devices-trapped")
	b.ReportMetric(float64(traps.span().Milliseconds()), "ms-first-trap-each")
	b.ReportMetric(0, "ns/op")
	b.Log(f.state(b))
}

type servedFleet struct {
	cmd        *exec.Cmd
	readyAfter time.Duration
	bench      string
	token      string
	devices    []netip.AddrPort
}

func startFleet(b *testing.B, n int, sink string) *servedFleet {
	dir := b.TempDir()
	program := filepath.Join(dir, "ridethrough")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	text := fmt.Sprintf(`
title = "a large site"
run_for = "24h"
[fleet]
count = %d
[card]
read_community = "watch"
receivers = [{ to = "198.51.100.20:162", community = "tell" }]
[[host]]
name = "server"
draw_w = 400
[[expect]]
name = "nobody is cut"
that = "hosts_cut > 0"
never = true
`, n)
	scenario := filepath.Join(dir, "fleet.toml")
	if err := os.WriteFile(scenario, []byte(text), 0o666); err != nil {
		b.Fatal(err)
	}
	f := &servedFleet{cmd: exec.Command(program, "serve", "--quiet", "--map", "198.51.100.20:162="+sink, scenario)}
	f.cmd.Stderr = os.Stderr
	out, err := f.cmd.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	start := time.Now()
	if err := f.cmd.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { f.cmd.Process.Signal(syscall.SIGINT); io.Copy(io.Discard, out); f.cmd.Wait() })
	line, err := bufio.NewReader(out).ReadBytes('\n')
	if err != nil {
		b.Fatal(err)
	}
	f.readyAfter = time.Since(start)
	var record struct {
		Endpoints struct{ Bench string }
		Token     string `json:"bench_token"`
		Devices   []struct{ Endpoints struct{ SNMP string } }
	}
	if err := json.Unmarshal(line, &record); err != nil {
		b.Fatal(err)
	}
	f.bench, f.token = record.Endpoints.Bench, record.Token
	for _, d := range record.Devices {
		f.devices = append(f.devices, netip.MustParseAddrPort(d.Endpoints.SNMP))
	}
	return f
}

// rss is the resident memory in KiB.
func (f *servedFleet) rss(b *testing.B) int {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", f.cmd.Process.Pid))
	if err != nil {
		b.Fatal(err)
	}
	return number(b, string(text), "VmRSS")
}

// meminfo is a line of the memory of the whole machine in KiB.
func meminfo(b *testing.B, key string) int {
	text, err := os.ReadFile("/proc/meminfo")
	if err != nil {
		b.Fatal(err)
	}
	return number(b, string(text), key)
}

func number(b *testing.B, text, key string) int {
	m := regexp.MustCompile(`(?m)^` + key + `:\s+(\d+) kB`).FindStringSubmatch(text)
	if m == nil {
		b.Fatalf("no %s", key)
	}
	n, _ := strconv.Atoi(m[1])
	return n
}

// busy is the share of one core that the process takes over a time.
func (f *servedFleet) busy(b *testing.B, over time.Duration) float64 {
	const ticksPerSecond = 100 // USER_HZ of Linux
	before, start := f.ticks(b), time.Now()
	time.Sleep(over)
	return float64(f.ticks(b)-before) / ticksPerSecond / time.Since(start).Seconds()
}

func (f *servedFleet) ticks(b *testing.B) int {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", f.cmd.Process.Pid))
	if err != nil {
		b.Fatal(err)
	}
	fields := strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
	user, _ := strconv.Atoi(fields[11])
	system, _ := strconv.Atoi(fields[12])
	return user + system
}

// getUpTime asks for sysUpTime over SNMPv2c.
func getUpTime(id uint32) []byte {
	m := []byte("\x30\x28\x02\x01\x01\x04\x05watch\xa0\x1c\x02\x04....\x02\x01\x00\x02\x01\x00\x30\x0e\x30\x0c\x06\x08\x2b\x06\x01\x02\x01\x01\x03\x00\x05\x00")
	m[16], m[17], m[18], m[19] = byte(id>>24), byte(id>>16), byte(id>>8), byte(id)
	return m
}

func listen(b *testing.B) *net.UDPConn {
	conn, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		b.Fatal(err)
	}
	conn.SetReadBuffer(4 << 20)
	b.Cleanup(func() { conn.Close() })
	return conn
}

// burst sends one request to each device without waiting for any reply.
func (f *servedFleet) burst(b *testing.B) (lost int, took time.Duration) {
	conn := listen(b)
	start := time.Now()
	heard := make(chan int)
	go func() {
		from := map[netip.AddrPort]bool{}
		buf := make([]byte, 2048)
		for len(from) < len(f.devices) {
			conn.SetReadDeadline(time.Now().Add(5 * time.Second))
			_, peer, err := conn.ReadFromUDPAddrPort(buf)
			if err != nil {
				break
			}
			from[peer] = true
		}
		took = time.Since(start)
		heard <- len(from)
	}()
	for i, at := range f.devices {
		if _, err := conn.WriteToUDPAddrPort(getUpTime(1<<24+uint32(i)), at); err != nil {
			b.Fatal(err)
		}
	}
	return len(f.devices) - <-heard, took
}

// load asks random devices from 16 sockets, each with one request at a time.
func (f *servedFleet) load(b *testing.B, over time.Duration) (rate float64, p99 time.Duration) {
	var all sync.WaitGroup
	times := make([][]time.Duration, 16)
	for i := range times {
		conn := listen(b)
		dice := rand.New(rand.NewPCG(1, uint64(i)))
		all.Go(func() {
			buf := make([]byte, 2048)
			for end := time.Now().Add(over); ; {
				start := time.Now()
				if start.After(end) {
					return
				}
				conn.SetReadDeadline(start.Add(2 * time.Second))
				conn.WriteToUDPAddrPort(getUpTime(1<<24+dice.Uint32N(1<<24)), f.devices[dice.IntN(len(f.devices))])
				if _, _, err := conn.ReadFromUDPAddrPort(buf); err != nil {
					b.Error(err)
					return
				}
				times[i] = append(times[i], time.Since(start))
			}
		})
	}
	all.Wait()
	whole := slices.Concat(times...)
	slices.Sort(whole)
	return float64(len(whole)) / over.Seconds(), whole[len(whole)*99/100]
}

func (f *servedFleet) ask(b *testing.B, method, path, body string) string {
	req, _ := http.NewRequest(method, "http://"+f.bench+path, strings.NewReader(body))
	req.Header.Set("Authorization", "Bearer "+f.token)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		b.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil || resp.StatusCode != 200 {
		b.Fatalf("%s %s: %s %s %v", method, path, resp.Status, text, err)
	}
	return string(text)
}

func (f *servedFleet) send(b *testing.B, entry string)  { f.ask(b, "POST", "/v1/send", entry) }
func (f *servedFleet) state(b *testing.B) (text string) { return f.ask(b, "GET", "/v1/state", "") }

// trapSink notes when the first trap of each device came.
type trapSink struct {
	conn  *net.UDPConn
	mu    sync.Mutex
	from  map[netip.AddrPort]time.Time
	total atomic.Int64
}

func newTrapSink(b *testing.B) *trapSink {
	s := &trapSink{conn: listen(b), from: map[netip.AddrPort]time.Time{}}
	go func() {
		buf := make([]byte, 2048)
		for {
			_, peer, err := s.conn.ReadFromUDPAddrPort(buf)
			if err != nil {
				return
			}
			s.total.Add(1)
			s.mu.Lock()
			if _, seen := s.from[peer]; !seen {
				s.from[peer] = time.Now()
			}
			s.mu.Unlock()
		}
	}()
	return s
}

func (s *trapSink) at() string { return s.conn.LocalAddr().String() }

func (s *trapSink) seen() map[netip.AddrPort]time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.from
}

func (s *trapSink) reset() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.from = map[netip.AddrPort]time.Time{}
}

// span is the time between the first trap of the first device and that of the
// last.
func (s *trapSink) span() time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	var first, last time.Time
	for _, at := range s.from {
		if first.IsZero() || at.Before(first) {
			first = at
		}
		if at.After(last) {
			last = at
		}
	}
	return last.Sub(first)
}
