package sim_test

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"net"
	"net/netip"
	"os"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
)

// outcomes are the counters one of which every datagram raises that came in: what
// was answered, and each reason why something was not. A Report is an answer, and
// is counted by its reason.
var outcomes = []string{
	"11.28",        // snmpOutGetResponses
	"11.3", "11.4", // snmpInBadVersions, snmpInBadCommunityNames
	"11.6",           // snmpInASNParseErrs
	"11.18", "11.19", // snmpInGetResponses, snmpInTraps
	"11.31",                   // snmpSilentDrops
	"mpd 1", "mpd 2", "mpd 3", // snmpUnknownSecurityModels, snmpInvalidMsgs, snmpUnknownPDUHandlers
	"usm 1", "usm 2", "usm 3", "usm 4", "usm 5", "usm 6", // usmStats
	"target 5", // snmpUnknownContexts
}

// objectOf is the object identifier of a short form above.
func objectOf(short string) string {
	for name, oid := range map[string]string{"11.": "1.3.6.1.2.1.11.", "mpd ": "1.3.6.1.6.3.11.2.1.", "usm ": "1.3.6.1.6.3.15.1.1.", "target ": "1.3.6.1.6.3.12.1."} {
		if rest, ok := strings.CutPrefix(short, name); ok {
			return "." + oid + rest + ".0"
		}
	}
	return ""
}

// tally reads snmpInPkts and the sum of all outcomes. It is itself one that comes
// in and whose outcome is not known yet.
func tally(t *testing.T, g *gosnmp.GoSNMP) (came, accounted int64) {
	t.Helper()
	names := []string{objectOf("11.1")}
	for _, o := range outcomes {
		names = append(names, objectOf(o))
	}
	p, err := g.Get(names)
	if err != nil || p.Error != gosnmp.NoError || len(p.Variables) != len(names) {
		t.Fatalf("%v, %+v", err, p)
	}
	for i, v := range p.Variables {
		n := gosnmp.ToBigInt(v.Value).Int64()
		if i == 0 {
			came = n
		} else {
			accounted += n
		}
	}
	return came, accounted
}

// socket is what the kernel says of the socket at that address: octets that wait
// to be read, and datagrams thrown away because there was no room.
func socket(t *testing.T, at netip.AddrPort) (waiting, dropped int64) {
	t.Helper()
	for range 100 { // the table leaves lines out while others open and close sockets
		if waiting, dropped, found := lookUp(t, at); found {
			return waiting, dropped
		}
	}
	t.Fatalf("no socket at %v", at)
	return 0, 0
}

func lookUp(t *testing.T, at netip.AddrPort) (waiting, dropped int64, found bool) {
	t.Helper()
	table, err := os.ReadFile("/proc/net/udp")
	if err != nil {
		t.Fatal(err)
	}
	a := at.Addr().As4()
	local := fmt.Sprintf("%02X%02X%02X%02X:%04X", a[3], a[2], a[1], a[0], at.Port())
	for line := range strings.Lines(string(table)) {
		f := strings.Fields(line)
		if len(f) < 13 || f[1] != local {
			continue
		}
		_, queue, _ := strings.Cut(f[4], ":")
		waiting, err = strconv.ParseInt(queue, 16, 64)
		if err == nil {
			dropped, err = strconv.ParseInt(f[12], 10, 64)
		}
		if err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		return waiting, dropped, true
	}
	return 0, 0, false
}

// malformed is messages to be damaged, and some that are whole but wrong.
func malformed(t *testing.T) (seeds [][]byte) {
	t.Helper()
	for _, p := range []*gosnmp.SnmpPacket{
		{Version: gosnmp.Version1, Community: "look", PDUType: gosnmp.GetRequest},
		{Version: gosnmp.Version2c, Community: "touch", PDUType: gosnmp.GetBulkRequest, MaxRepetitions: 40},
		{Version: gosnmp.Version2c, Community: "guess", PDUType: gosnmp.GetNextRequest},
		{Version: gosnmp.Version2c, Community: "look", PDUType: gosnmp.SNMPv2Trap},
		{Version: gosnmp.Version2c, Community: "look", PDUType: gosnmp.GetResponse},
	} {
		p.Variables = []gosnmp.SnmpPDU{{Name: ".1.3.6.1.2.1.33.1.2.3.0", Type: gosnmp.Null}}
		b, err := p.MarshalMsg()
		if err != nil {
			t.Fatal(err)
		}
		seeds = append(seeds, b)
	}
	// A question for the engine of SNMPv3 (RFC 3414 section 4), and one for another.
	discovery := "\x30\x3e\x02\x01\x03\x30\x11\x02\x04\x00\x00\x00\x07\x02\x03\x00\xff\xe3\x04\x01\x04\x02\x01\x03" +
		"\x04\x10\x30\x0e\x04\x00\x02\x01\x00\x02\x01\x00\x04\x00\x04\x00\x04\x00" +
		"\x30\x14\x04\x00\x04\x00\xa0\x0e\x02\x04\x00\x00\x00\x07\x02\x01\x00\x02\x01\x00\x30\x00"
	return append(seeds, []byte(discovery), []byte(strings.Replace(discovery, "\x02\x01\x03\x04\x10", "\x02\x01\x04\x04\x10", 1)))
}

// spoil damages one of seeds, or makes noise.
func spoil(r *rand.Rand, seeds [][]byte, out []byte) []byte {
	out = append(out[:0], seeds[r.IntN(len(seeds))]...)
	switch r.IntN(8) {
	case 0: // whole
	case 1:
		out = out[:r.IntN(len(out)+1)]
	case 2:
		out = append(out, make([]byte, 1+r.IntN(1300))...)
	case 3:
		for i := range out {
			out[i] = byte(r.Uint32())
		}
	default:
		for range 1 + r.IntN(3) {
			out[r.IntN(len(out))] = byte(r.Uint32())
		}
	}
	return out
}

// TestFlood sends a great many malformed datagrams as fast as they go. Afterwards
// every one of a thousand requests is answered at the first try, nothing piled up,
// and the counters account for every datagram: it came in, unless the kernel
// dropped it, and was answered or counted.
func TestFlood(t *testing.T) {
	total := 30_000
	if os.Getenv("CI") == "true" {
		total = 1_000_000
	}
	c := serveText(t, flooded, sim.ServeOptions{})
	at := netip.MustParseAddrPort(c.ready.Endpoints.SNMP)
	g := c.snmp("look")
	g.Retries, g.Timeout = 0, 20*time.Second
	came, accounted := tally(t, g)
	heap, goroutines := held(), runtime.NumGoroutine()

	conn, err := net.DialUDP("udp4", nil, net.UDPAddrFromAddrPort(at))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	r := rand.New(rand.NewPCG(21, 4))
	seeds, buffer := malformed(t), make([]byte, 0, 2000)
	for range total {
		buffer = spoil(r, seeds, buffer)
		if _, err := conn.Write(buffer); err != nil {
			t.Fatal(err)
		}
	}
	for waiting := int64(1); waiting > 0; { // what no longer fits is no fault of the agent's
		waiting, _ = socket(t, at)
	}
	for range 1000 {
		if p, err := g.Get([]string{sysDescr}); err != nil || !bytes.Contains(p.Variables[0].Value.([]byte), []byte("SIMULATION")) {
			t.Fatalf("after the flood: %v, %+v", err, p)
		}
	}
	_, lost := socket(t, at)
	cameAfter, accountedAfter := tally(t, g)
	// Of our own, the first tally's outcome was not yet known to itself.
	if want := came + int64(total) - lost + 1000 + 1; cameAfter != want {
		t.Errorf("%d came in, want %d: %d were sent and %d of them dropped by the kernel", cameAfter, want, total, lost)
	}
	if got, want := accountedAfter-accounted, cameAfter-came; got != want {
		t.Errorf("%d of %d were answered or counted", got, want)
	}
	t.Logf("%d sent, %d dropped by the kernel", total, lost)
	if lost > int64(total)*99/100 {
		t.Errorf("of %d only %d came in: that was no flood", total, int64(total)-lost)
	}
	if more := held() - heap; more > 4<<20 {
		t.Errorf("the flood left %d octets behind", more)
	}
	for deadline := time.Now().Add(20 * time.Second); runtime.NumGoroutine() > goroutines+3; time.Sleep(5 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("%d goroutines, %d before", runtime.NumGoroutine(), goroutines)
		}
	}
	conn.Close()
	g.Conn.Close()
	c.end()
}

// held is what is alive on the heap, once nothing more of it is freed.
func held() int64 {
	var m runtime.MemStats
	for least := uint64(math.MaxUint64); ; least = m.HeapAlloc {
		runtime.GC() // a pool lets go of what it holds with the second only
		runtime.ReadMemStats(&m)
		if m.HeapAlloc >= least {
			return int64(least)
		}
	}
}
