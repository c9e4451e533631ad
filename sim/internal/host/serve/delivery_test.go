package serve

import (
	"net"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/face/snmp"
)

// TestDeliveryIsBounded: what waits to leave is limited, and none of it outlives the
// socket.
func TestDeliveryIsBounded(t *testing.T) {
	defer checks.NoLeaks(t)
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	to := conn.LocalAddr().(*net.UDPAddr).AddrPort()
	d := newDelivery(conn, func(line string) { t.Error(line) })
	for range most + 10 {
		d.send([]byte("late"), to, snmp.Delivery{After: time.Hour})
	}
	if n := len(d.later.timers); n != most {
		t.Errorf("%d wait", n)
	}
	d.send([]byte("now"), to, snmp.Delivery{Elsewhere: true})
	buf := make([]byte, 16)
	conn.SetReadDeadline(time.Now().Add(20 * time.Second))
	if n, from, err := conn.ReadFromUDPAddrPort(buf); err != nil || string(buf[:n]) != "now" || from == to || from.Addr() != to.Addr() {
		t.Errorf("%q from %v, %v", buf[:n], from, err)
	}
	d.close()
	conn.Close()
	d.send([]byte("too late"), to, snmp.Delivery{After: time.Millisecond, Elsewhere: true})
	if n := len(d.later.timers); n != most { // they were stopped, and none has come
		t.Errorf("%d wait after the end", n)
	}
}

// TestHeldReplyLeavesAlone: a reply that lets the next go first leaves without one too,
// and with one behind it.
func TestHeldReplyLeavesAlone(t *testing.T) {
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	to := conn.LocalAddr().(*net.UDPAddr).AddrPort()
	d := newDelivery(conn, func(line string) { t.Error(line) })
	defer d.close()
	d.send([]byte("alone"), to, snmp.Delivery{Hold: time.Millisecond})
	read := func(want string) {
		t.Helper()
		buf := make([]byte, 16)
		conn.SetReadDeadline(time.Now().Add(20 * time.Second))
		if n, err := conn.Read(buf); err != nil || string(buf[:n]) != want {
			t.Errorf("%q, %v; want %q", buf[:n], err, want)
		}
	}
	read("alone")
	d.send([]byte("first"), to, snmp.Delivery{Hold: time.Hour})
	d.send([]byte("second"), to, snmp.Delivery{Hold: time.Hour, Twice: true})
	read("second")
	read("second")
	read("first")
}
