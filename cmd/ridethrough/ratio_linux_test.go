package main

import (
	"fmt"
	"net"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"
	"golang.org/x/sys/unix"
)

// How the agent is measured: as many managers as sockets, each of which sends its
// next request when it has the answer to the last, to one server after the other.
const sockets = 16

// question is a kind of request. Each server is asked in its own encoding, made
// once a round: in SNMPv3 it holds for 150 s.
type question struct {
	name string
	v3   bool
	ask  func(*gosnmp.GoSNMP) (*gosnmp.SnmpPacket, error)
}

var questions = []question{
	{"GET", false, func(g *gosnmp.GoSNMP) (*gosnmp.SnmpPacket, error) { return g.Get([]string{".1.3.6.1.2.1.1.1.0"}) }},
	{"GETBULK 30", false, func(g *gosnmp.GoSNMP) (*gosnmp.SnmpPacket, error) {
		return g.GetBulk([]string{".1.3.6.1.2.1.11"}, 0, 30)
	}},
	{"GET authPriv", true, func(g *gosnmp.GoSNMP) (*gosnmp.SnmpPacket, error) { return g.Get([]string{".1.3.6.1.2.1.1.1.0"}) }},
}

// run is what driving one server for a while came to.
type run struct {
	perSecond float64
	cpuMicros float64 // of the server, for one request
}

// BenchmarkRatio compares the agent with snmpd and with a server that only sends
// back what it gets; see testdata/bench/snmp-ratio. One iteration is one round over
// all of them. Ratios of one round are of the same few seconds, so that what else
// the machine does falls on all alike; of all rounds the median counts.
func BenchmarkRatio(b *testing.B) {
	snmpd, err := exec.LookPath("snmpd")
	if err != nil {
		b.Skip(err)
	}
	leg := 500 * time.Millisecond
	if text := os.Getenv("RATIO_LEG"); text != "" {
		if leg, err = time.ParseDuration(text); err != nil {
			b.Fatalf("RATIO_LEG: %v; expected a duration such as 1s", err)
		}
	}
	rivals := []*rival{startCard(b), startSnmpd(b, snmpd), startEcho(b)}
	results := map[string][]run{}
	for b.Loop() {
		for qi, q := range questions {
			for turn := range rivals {
				r := rivals[(turn+qi)%len(rivals)]
				request, size := r.encode(b, q)
				key := q.name + "/" + r.name
				results[key] = append(results[key], r.drive(b, request, size, leg))
			}
		}
	}
	report(b, results)
}

// report prints the medians, and the median of the rounds' ratios.
func report(b *testing.B, results map[string][]run) {
	fmt.Println("| request | server | requests/s | x snmpd | x echo | server CPU us/request | snmpd's CPU x |")
	fmt.Println("| --- | --- | --- | --- | --- | --- | --- |")
	for _, q := range questions {
		anchor, floor := results[q.name+"/snmpd"], results[q.name+"/echo"]
		for _, name := range []string{"ridethrough", "snmpd", "echo"} {
			mine := results[q.name+"/"+name]
			toSnmpd := median(mine, anchor, run.rate)
			fmt.Printf("| %s | %s | %.0f | %.2f | %.2f | %.1f | %.2f |\n", q.name, name, median(mine, nil, run.rate), toSnmpd,
				median(mine, floor, run.rate), median(mine, nil, run.cpu), median(anchor, mine, run.cpu))
			if name == "ridethrough" {
				b.ReportMetric(toSnmpd, strings.ReplaceAll(q.name, " ", "-")+"/snmpd")
			}
		}
	}
	b.ReportMetric(median(results["GET/ridethrough"], results["GET/echo"], run.rate), "GET/echo")
}

func (r run) rate() float64 { return r.perSecond }
func (r run) cpu() float64  { return r.cpuMicros }

// median is that of what of each round, over that of another server in the same
// round unless that is nil.
func median(runs, over []run, what func(run) float64) float64 {
	var list []float64
	for i, r := range runs {
		v := what(r)
		if over != nil {
			v /= what(over[i])
		}
		list = append(list, v)
	}
	slices.Sort(list)
	return (list[(len(list)-1)/2] + list[len(list)/2]) / 2
}

// overheard notes what goes out.
type overheard struct {
	net.Conn
	sent []byte
}

func (o *overheard) Write(p []byte) (int, error) {
	o.sent = append(o.sent[:0], p...)
	return o.Conn.Write(p)
}

// encode asks once and returns the request that was answered, and how long the
// answer was. The server that sends back what it gets is sent what snmpd is.
func (r *rival) encode(b *testing.B, q question) (request []byte, size int) {
	b.Helper()
	if r.name == "echo" {
		request = []byte(strings.Repeat("?", map[string]int{"GET": 44, "GETBULK 30": 42, "GET authPriv": 130}[q.name]))
		return request, len(request)
	}
	host, port, _ := net.SplitHostPort(r.address)
	number, _ := strconv.Atoi(port)
	g := &gosnmp.GoSNMP{Target: host, Port: uint16(number), Version: gosnmp.Version2c, Community: "measure", Timeout: 10 * time.Second}
	if q.v3 {
		g.Version, g.SecurityModel, g.MsgFlags = gosnmp.Version3, gosnmp.UserSecurityModel, gosnmp.AuthPriv
		g.SecurityParameters = &gosnmp.UsmSecurityParameters{UserName: "measure",
			AuthenticationProtocol: gosnmp.SHA, AuthenticationPassphrase: "authentication phrase",
			PrivacyProtocol: gosnmp.AES, PrivacyPassphrase: "privacy phrase"}
	}
	if err := g.Connect(); err != nil {
		b.Fatal(err)
	}
	defer g.Conn.Close()
	line := &overheard{Conn: g.Conn}
	g.Conn = line
	p, err := q.ask(g)
	if err != nil || p.Error != gosnmp.NoError {
		b.Fatalf("%s, %s: %v, %v", r.name, q.name, err, p)
	}
	out, err := p.MarshalMsg()
	if err != nil {
		b.Fatal(err)
	}
	return line.sent, len(out)
}

// drive asks again and again over all sockets, for that long. It is one thread on
// bare system calls, so that it takes less than the servers do and measures them.
func (r *rival) drive(b *testing.B, request []byte, size int, leg time.Duration) run {
	b.Helper()
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	m := newManagers(b, r.address, request, size)
	defer m.close()
	before, began := cpuOf(b, r.process), time.Now()
	for _, fd := range m.sockets {
		m.send(fd)
	}
	for took := time.Duration(0); took < leg; took = time.Since(began) {
		m.serve(true)
	}
	took, spent, n := time.Since(began), cpuOf(b, r.process)-before, float64(m.answers)
	for left := sockets; left > 0 && m.wrong == 0; { // what is still on its way
		left -= m.serve(false)
	}
	if m.wrong > 0 {
		b.Fatalf("%s: of %d answers %d were lost or not as the first", r.name, m.answers, m.wrong)
	}
	return run{perSecond: n / took.Seconds(), cpuMicros: float64(spent) / 1000 / n}
}

// managers are the sockets that ask.
type managers struct {
	b              *testing.B
	sockets        []int
	poll           int
	request        []byte
	size           int // of the first answer
	answers, wrong int
	events         [sockets]unix.EpollEvent
	in             [4096]byte
}

func newManagers(b *testing.B, address string, request []byte, size int) *managers {
	b.Helper()
	to := netip.MustParseAddrPort(address)
	m := &managers{b: b, request: request, size: size}
	var err error
	if m.poll, err = unix.EpollCreate1(unix.EPOLL_CLOEXEC); err != nil {
		b.Fatal(err)
	}
	for range sockets {
		fd, err := unix.Socket(unix.AF_INET, unix.SOCK_DGRAM|unix.SOCK_NONBLOCK|unix.SOCK_CLOEXEC, 0)
		if err != nil {
			b.Fatal(err)
		}
		m.sockets = append(m.sockets, fd)
		if err := unix.Connect(fd, &unix.SockaddrInet4{Port: int(to.Port()), Addr: to.Addr().As4()}); err != nil {
			b.Fatal(err)
		}
		if err := unix.EpollCtl(m.poll, unix.EPOLL_CTL_ADD, fd, &unix.EpollEvent{Events: unix.EPOLLIN, Fd: int32(fd)}); err != nil {
			b.Fatal(err)
		}
	}
	return m
}

func (m *managers) close() {
	for _, fd := range append(m.sockets, m.poll) {
		unix.Close(fd)
	}
}

func (m *managers) send(fd int) {
	if _, err := unix.Write(fd, m.request); err != nil {
		m.b.Fatal(err)
	}
}

// serve takes the answers that are there, or waits for one, and asks again if it is
// to. It says how many there were. An answer whose length is not that of the first,
// but for what counters and engine times grow by, is wrong.
func (m *managers) serve(again bool) int {
	n, err := unix.EpollWait(m.poll, m.events[:], 10_000)
	if err == unix.EINTR {
		return 0
	}
	if err != nil {
		m.b.Fatal(err)
	}
	if n == 0 {
		m.wrong++ // ten seconds without an answer: one is lost
	}
	for _, e := range m.events[:max(n, 0)] {
		size, err := unix.Read(int(e.Fd), m.in[:])
		if err != nil || size < m.size-8 || size > m.size+64 {
			m.wrong++
		}
		m.answers++
		if again {
			m.send(int(e.Fd))
		}
	}
	return n
}

// cpuOf is the processor time of all threads of a process, in nanoseconds.
func cpuOf(b *testing.B, process int) (sum int64) {
	b.Helper()
	threads, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/schedstat", process))
	if err != nil || len(threads) == 0 {
		b.Fatalf("process %d: no threads (%v)", process, err)
	}
	for _, name := range threads {
		text, _ := os.ReadFile(name) // a thread may have ended
		first, _, _ := strings.Cut(string(text), " ")
		n, _ := strconv.ParseInt(first, 10, 64)
		sum += n
	}
	return sum
}
