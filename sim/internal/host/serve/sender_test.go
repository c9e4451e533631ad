package serve

import (
	"net"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
)

// TestTrapAfterARefusedOne: a receiver that listens again gets the next datagram,
// although the one before it was refused, which the socket tells only now.
func TestTrapAfterARefusedOne(t *testing.T) {
	receiver, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.ParseIP(checks.Loopback())})
	if err != nil {
		t.Fatal(err)
	}
	at := receiver.LocalAddr().(*net.UDPAddr)
	conn, err := net.DialUDP("udp4", nil, at)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	receiver.Close()
	post(conn, []byte("to nobody"))
	if receiver, err = net.ListenUDP("udp4", at); err != nil {
		t.Fatal(err)
	}
	defer receiver.Close()
	post(conn, []byte("to somebody"))
	buf := make([]byte, 16)
	receiver.SetReadDeadline(time.Now().Add(20 * time.Second))
	if n, err := receiver.Read(buf); err != nil || string(buf[:n]) != "to somebody" {
		t.Errorf("%q, %v", buf[:n], err)
	}
}
