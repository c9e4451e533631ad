package ports

import (
	"errors"
	"net"
	"net/netip"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
)

var free = netip.MustParseAddrPort("127.0.0.1:0")

func newSet(t *testing.T) *Set {
	t.Helper()
	s, err := NewSet()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close(); checks.NoLeaks(t) })
	return s
}

// What comes to a socket is told by its id, read with where it came from, and
// answered from the socket that was asked.
func TestSetReadsAndAnswers(t *testing.T) {
	s := newSet(t)
	var sockets [40]Socket
	var at [40]netip.AddrPort
	for i := range sockets {
		var err error
		if sockets[i], at[i], err = s.Open(netip.AddrPortFrom(netip.AddrFrom4([4]byte{127, 0, 9, byte(i + 1)}), 0), int32(i)); err != nil {
			t.Fatal(err)
		}
	}
	client, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	defer client.Close()
	client.SetReadDeadline(time.Now().Add(20 * time.Second))
	for i := range at {
		client.WriteToUDPAddrPort([]byte{byte(i)}, at[i])
	}
	seen := map[int32]bool{}
	for len(seen) < len(sockets) {
		if err := s.Wait(10*time.Second, func(id int32) {
			var b [8]byte
			n, from, ok := sockets[id].Read(b[:])
			if !ok || n != 1 || b[0] != byte(id) || from.Port() != uint16(client.LocalAddr().(*net.UDPAddr).Port) {
				t.Fatalf("socket %d: %v from %v, %v", id, b[:n], from, ok)
			}
			seen[id] = true
			sockets[id].Write(b[:n], from)
		}); err != nil {
			t.Fatal(err)
		}
	}
	for range at {
		var b [8]byte
		n, from, err := client.ReadFromUDPAddrPort(b[:])
		if err != nil || n != 1 || from != at[b[0]] {
			t.Fatalf("%v from %v, %v", b[:n], from, err)
		}
	}
}

func TestWaitEndsWithTheTime(t *testing.T) {
	s := newSet(t)
	if err := s.Wait(time.Millisecond, func(int32) { t.Error("something came") }); err != nil {
		t.Fatal(err)
	}
}

// Wake ends a Wait that is under way, and else the next.
func TestWake(t *testing.T) {
	s := newSet(t)
	s.Wake()
	s.Wake()
	if err := s.Wait(time.Minute, func(int32) {}); err != nil {
		t.Fatal(err)
	}
	done := make(chan error)
	go func() { done <- s.Wait(time.Minute, func(int32) {}) }()
	s.Wake()
	if err := <-done; err != nil {
		t.Fatal(err)
	}
}

func TestOpenSaysWhatIsTaken(t *testing.T) {
	s := newSet(t)
	_, at, err := s.Open(free, 0)
	if err != nil || at.Port() == 0 {
		t.Fatal(at, err)
	}
	if _, _, err := s.Open(at, 1); err == nil {
		t.Error("a taken port was bound")
	}
	beside, err := Beside(at)
	if err != nil {
		t.Fatal(err)
	}
	beside.Close()
}

func TestRoom(t *testing.T) {
	var low *LimitError
	if err := Room(1 << 40); !errors.As(err, &low) || low.Sockets != 1<<40 || low.Need != 1<<40+Spare {
		t.Errorf("got %v", err)
	}
	if err := Room(1); err != nil {
		t.Error(err)
	}
	if err := short(936, 1000); err != nil {
		t.Error(err)
	}
	if err := short(937, 1000); err == nil || err.Error() != "937 sockets need 1001 file descriptors and this process may open 1000; raise the hard limit (ulimit -Hn 1001) or take fewer devices" {
		t.Errorf("got %v", err)
	}
}
