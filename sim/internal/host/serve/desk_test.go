package serve

import (
	"net"
	"sync"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
)

// slow is a source whose engine takes a command only when it is let.
type slow struct {
	*device
	asked chan snap.Command
	let   chan struct{}
}

func (s *slow) Submit(c snap.Command) snap.Result {
	s.asked <- c
	<-s.let
	return snap.Result{}
}

// open serves source on a loopback socket until the test ends.
func open(t *testing.T, source snap.Source) (to *net.UDPAddr, readers *sync.WaitGroup) {
	t.Helper()
	conn, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	readers = new(sync.WaitGroup)
	d := &desk{agent: snmp.New(source, snmp.Config{}), conn: conn, start: readers.Go}
	d.start(d.read)
	t.Cleanup(func() { conn.Close(); readers.Wait() })
	return conn.LocalAddr().(*net.UDPAddr), readers
}

func manager(t *testing.T, to *net.UDPAddr) *gosnmp.GoSNMP {
	t.Helper()
	g := &gosnmp.GoSNMP{Target: "127.0.0.1", Port: uint16(to.Port), Version: gosnmp.Version2c, Community: "touch", Timeout: 20 * time.Second}
	if err := g.Connect(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { g.Conn.Close() })
	return g
}

// TestReadsDoNotWaitForWrites: as many writes as may wait for an engine that does
// not come, and reads go on; one more write waits in its place. Each is answered
// to its own sender.
func TestReadsDoNotWaitForWrites(t *testing.T) {
	const sysName = ".1.3.6.1.2.1.1.5.0"
	checks.EndsWithin(t, 2*time.Minute)
	source := &slow{device: running(), asked: make(chan snap.Command, 100), let: make(chan struct{})}
	source.dev.Card.Settings.WriteCommunity = snap.NewSecret("touch")
	to, _ := open(t, source)
	reads := manager(t, to)
	for round := range 3 { // relieved readers come back
		var writes sync.WaitGroup
		for n := range writers + 1 {
			g := manager(t, to)
			name := string(rune('a' + n))
			writes.Go(func() {
				p, err := g.Set([]gosnmp.SnmpPDU{{Name: sysName, Type: gosnmp.OctetString, Value: name}})
				if err != nil || p.Error != gosnmp.NoError || string(p.Variables[0].Value.([]byte)) != name {
					t.Errorf("write %s: %v, %v", name, p, err)
				}
			})
			asked := <-source.asked
			if local := g.Conn.LocalAddr().String(); asked.By.Peer != local || asked.Sets[0].Text != name {
				t.Errorf("from %s came %+v", local, asked)
			}
			if n == writers {
				break
			}
			if p, err := reads.Get([]string{sysName}); err != nil || len(p.Variables) != 1 {
				t.Fatalf("round %d, %d writes wait: %v", round, n+1, err)
			}
		}
		for range writers + 1 {
			source.let <- struct{}{}
		}
		writes.Wait()
	}
}

// TestRequestsAllocateNothing counts over a socket, with everything that a read of
// SNMPv1 or SNMPv2c comes by: an allocation anywhere in the process would show.
func TestRequestsAllocateNothing(t *testing.T) {
	if raceEnabled {
		t.Skip("the race detector makes pools forget")
	}
	source := running()
	source.dev.Card.Settings.ReadCommunity = snap.NewSecret("look")
	to, _ := open(t, still{source})
	conn, err := net.DialUDP("udp4", nil, to)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	conn.SetDeadline(time.Now().Add(time.Minute))
	for version, name := range []string{"SNMPv1", "SNMPv2c"} {
		request := []byte("\x30\x27\x02\x01" + string(rune(version)) + "\x04\x04look\xa0\x1c\x02\x04\x00\x00\x00\x01\x02\x01\x00\x02\x01\x00" +
			"\x30\x0e\x30\x0c\x06\x08\x2b\x06\x01\x02\x01\x01\x01\x00\x05\x00") // get sysDescr.0
		answer := make([]byte, 2000)
		n := testing.AllocsPerRun(500, func() {
			conn.Write(request)
			if n, err := conn.Read(answer); err != nil || n < len(request) {
				t.Fatalf("%d octets, %v", n, err)
			}
		})
		if n >= 1 {
			t.Errorf("%s: %v allocations for a request", name, n)
		}
	}
}

// still is a device that hands out one snapshot, as the engine does.
type still struct{ *device }

func (s still) Device() *snap.Device { return &s.dev }
