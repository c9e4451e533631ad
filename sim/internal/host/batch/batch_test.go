package batch

import (
	"bytes"
	"errors"
	"fmt"
	"net"
	"testing"
	"time"
)

func open(t testing.TB, network, at string) (*net.UDPConn, *Box) {
	t.Helper()
	address, err := net.ResolveUDPAddr(network, at)
	if err != nil {
		t.Fatal(err)
	}
	conn, err := net.ListenUDP(network, address)
	if err != nil {
		t.Skip(err)
	}
	t.Cleanup(func() { conn.Close() })
	if _, test := t.(*testing.T); test {
		conn.SetReadDeadline(time.Now().Add(time.Minute))
	}
	b := New(2000)
	if err := b.Open(conn); err != nil {
		t.Fatal(err)
	}
	return conn, b
}

// dial are clients of the socket, each with its own address.
func dial(t testing.TB, to net.Addr, count int) []*net.UDPConn {
	t.Helper()
	var list []*net.UDPConn
	for range count {
		c, err := net.DialUDP("udp", nil, to.(*net.UDPAddr))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Close() })
		c.SetDeadline(time.Now().Add(20 * time.Second))
		list = append(list, c)
	}
	return list
}

// TestToEachItsOwn: whatever comes together, every sender gets its own text back,
// of any length, over IPv4 and IPv6.
func TestToEachItsOwn(t *testing.T) {
	for network, at := range map[string]string{"udp4": "127.0.0.1:0", "udp6": "[::1]:0", "udp": "localhost:0"} {
		conn, b := open(t, network, at)
		clients := dial(t, conn.LocalAddr(), 40)
		for i, c := range clients {
			c.Write(bytes.Repeat([]byte{byte('0' + i)}, 1+37*i))
		}
		for left := len(clients); left > 0; {
			n, err := b.Receive()
			if err != nil || n == 0 {
				t.Fatal(n, err)
			}
			for i := range n {
				m := b.Mail(i)
				b.Reply(i, fmt.Appendf(m.Room(), "%s from %v", m.Text(), b.Peer(i)))
			}
			b.Flush()
			left -= n
		}
		for i, c := range clients {
			reply := make([]byte, 4000)
			n, err := c.Read(reply)
			want := fmt.Sprintf("%s from %v", bytes.Repeat([]byte{byte('0' + i)}, 1+37*i), c.LocalAddr())
			if err != nil || string(reply[:n]) != want {
				t.Errorf("%s: client %d got %.60q, %v", network, i, reply[:n], err)
			}
		}
	}
}

// TestTaken: a second box answers what the first one has not.
func TestTaken(t *testing.T) {
	conn, b := open(t, "udp4", "127.0.0.1:0")
	clients := dial(t, conn.LocalAddr(), 3)
	for i, c := range clients {
		c.Write([]byte{byte('a' + i)})
	}
	other, answered := New(100), 0
	for answered < len(clients) {
		n, err := b.Receive()
		if err != nil {
			t.Fatal(err)
		}
		b.Reply(0, append(b.Mail(0).Room(), b.Mail(0).Text()...))
		for i := range other.Take(b, 1, n) {
			other.Reply(i, append(other.Mail(i).Room(), other.Mail(i).Text()...))
		}
		other.Flush()
		b.Flush()
		answered += n
	}
	for i, c := range clients {
		reply := make([]byte, 10)
		if n, err := c.Read(reply); err != nil || string(reply[:n]) != string(rune('a'+i)) {
			t.Errorf("client %d got %q, %v", i, reply[:n], err)
		}
	}
}

// TestPeersThatAreGone do not keep the others from their replies.
func TestPeersThatAreGone(t *testing.T) {
	conn, b := open(t, "udp4", "127.0.0.1:0")
	clients := dial(t, conn.LocalAddr(), 4)
	for round := range 20 {
		for i, c := range clients {
			c.Write([]byte{byte(round), byte(i)})
		}
		if round == 5 {
			clients[0].Close()
			clients[2].Close()
			clients = []*net.UDPConn{clients[1], clients[3]}
		}
		for answered := 0; answered < len(clients); {
			n, err := b.Receive()
			if err != nil {
				t.Fatal(err)
			}
			for i := range n {
				if b.Mail(i).Text()[0] == byte(round) {
					answered++
				}
				b.Reply(i, append(b.Mail(i).Room(), b.Mail(i).Text()...))
			}
			b.Flush()
		}
		for _, c := range clients {
			reply := make([]byte, 10)
			if n, err := c.Read(reply); err != nil || n != 2 || reply[0] != byte(round) {
				t.Fatalf("round %d: %v %v", round, reply[:n], err)
			}
		}
	}
}

func TestClosed(t *testing.T) {
	conn, b := open(t, "udp4", "127.0.0.1:0")
	ended := make(chan error)
	go func() {
		_, err := b.Receive()
		ended <- err
	}()
	conn.Close()
	if err := <-ended; !errors.Is(err, net.ErrClosed) {
		t.Error(err)
	}
	b.Reply(0, []byte("x"))
	b.Flush() // goes nowhere, and does not hang
}

func TestNothingIsAllocated(t *testing.T) {
	conn, b := open(t, "udp4", "127.0.0.1:0")
	c := dial(t, conn.LocalAddr(), 1)[0]
	text, reply := []byte("0123456789"), make([]byte, 100)
	n := testing.AllocsPerRun(200, func() {
		c.Write(text)
		n, _ := b.Receive()
		for i := range n {
			b.Reply(i, append(b.Mail(i).Room(), b.Mail(i).Text()...))
		}
		b.Flush()
		c.Read(reply)
	})
	if n != 0 {
		t.Errorf("%v allocations", n)
	}
}
