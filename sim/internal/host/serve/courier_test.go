package serve

import (
	"bytes"
	"context"
	"net"
	"net/netip"
	"strings"
	"sync"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/snmp"
)

func TestMain(m *testing.M) { checks.Main(m) }

// device is a source that shows one device.
type device struct {
	mu  sync.Mutex
	dev snap.Device
}

func (c *device) Device() *snap.Device {
	c.mu.Lock()
	defer c.mu.Unlock()
	d := c.dev
	return &d
}

func (c *device) Now() vtime.Tick                 { return 0 }
func (c *device) Submit(snap.Command) snap.Result { return snap.Result{} }

func running() *device {
	c := new(device)
	c.dev.Card = snap.Card{State: snap.CardRunning, Boots: 1, Address: snap.Address{Prefix: netip.MustParsePrefix("192.0.2.10/24")}}
	return c
}

// medium is a connection that says when something was written to it.
type medium struct {
	net.Conn
	written chan struct{} // full: it waits
}

func (w *medium) Write(b []byte) (int, error) {
	n, err := w.Conn.Write(b)
	w.written <- struct{}{}
	return n, err
}

// bed is a courier with a receiver that the test plays.
type bed struct {
	*courier
	card     *device
	medium   *medium
	receiver *net.UDPConn
	told     chan snap.Command
}

func newBed(t *testing.T, retries int, timeout time.Duration) *bed {
	t.Helper()
	checks.EndsWithin(t, 2*time.Minute)
	receiver, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.ParseIP(checks.Loopback())})
	if err != nil {
		t.Fatal(err)
	}
	conn, err := net.Dial("udp4", receiver.LocalAddr().String())
	if err != nil {
		t.Fatal(err)
	}
	b := &bed{card: running(), medium: &medium{conn, make(chan struct{}, 200)}, receiver: receiver, told: make(chan snap.Command, 200)}
	to := plan.Receiver{To: netip.MustParseAddrPort("198.51.100.20:162"), Retries: retries, Timeout: vtime.FromDuration(timeout)}
	b.courier = newCourier(to, b.medium, snmp.New(b.card, snmp.Config{}), func(c snap.Command) snap.Result {
		b.told <- c
		return snap.Result{}
	}, func(string) {})
	ctx, stop := context.WithCancel(t.Context())
	var group sync.WaitGroup
	group.Go(b.listen)
	group.Go(func() { b.run(ctx) })
	t.Cleanup(func() {
		stop()
		conn.Close()
		b.receiver.Close()
		group.Wait()
	})
	return b
}

func (b *bed) inform(t *testing.T, id int32) {
	t.Helper()
	i, err := b.agent.Inform(snmp.Envelope{Version: snmp.V2c, Community: "site", RequestID: id}, snap.Notification{Kind: snap.NotifyColdStart})
	if err != nil {
		t.Fatal(err)
	}
	b.put(i, false)
}

// receive is the next message, and who sent it.
func (b *bed) receive(t *testing.T) ([]byte, *net.UDPAddr) {
	t.Helper()
	buffer := make([]byte, 2000)
	b.receiver.SetReadDeadline(time.Now().Add(20 * time.Second))
	n, from, err := b.receiver.ReadFromUDP(buffer)
	if err != nil {
		t.Fatal(err)
	}
	return buffer[:n], from
}

// acknowledge answers a message with status.
func (b *bed) acknowledge(t *testing.T, message []byte, to *net.UDPAddr, status int64) {
	t.Helper()
	var m ber.Message
	if err := m.Decode(message); err != nil || m.PDU.Type != ber.InformRequest {
		t.Fatalf("%v, %+v", err, m)
	}
	out, whole := ber.Open(nil, ber.Sequence)
	out = ber.AppendString(ber.AppendInt(out, ber.Integer, ber.V2c), ber.OctetString, m.Community)
	out, pdu := ber.Open(out, ber.Response)
	for _, field := range [...]int64{int64(m.PDU.RequestID), status, 0} {
		out = ber.AppendInt(out, ber.Integer, field)
	}
	out = ber.AppendString(out, ber.Sequence, m.PDU.Raw)
	b.receiver.WriteToUDP(ber.Close(ber.Close(out, pdu), whole), to)
}

func (b *bed) hears(t *testing.T, acknowledged bool, why string) {
	t.Helper()
	select {
	case c := <-b.told:
		if c.Op != snap.OpAck || c.Notify != snap.NotifyColdStart || c.OK != acknowledged || !strings.Contains(c.Text, why) || c.By.Peer != "198.51.100.20:162" {
			t.Errorf("the bench was told %+v", c)
		}
	case <-time.After(20 * time.Second):
		t.Error("the bench was told nothing")
	}
}

func TestAcknowledged(t *testing.T) {
	b := newBed(t, 3, 10*time.Second)
	for id := range int32(3) { // the next one leaves when the one before is done
		b.inform(t, id)
	}
	for range 3 {
		message, from := b.receive(t)
		b.acknowledge(t, message, from, 0)
		b.hears(t, true, "")
	}
}

// TestSilentReceiver: the same octets come again, ever later, and then no more.
func TestSilentReceiver(t *testing.T) {
	const timeout = 20 * time.Millisecond
	b := newBed(t, 2, timeout)
	began := time.Now()
	b.inform(t, -5)
	first, _ := b.receive(t)
	for range 2 {
		if again, _ := b.receive(t); !bytes.Equal(first, again) {
			t.Errorf("%x after %x", again, first)
		}
	}
	b.hears(t, false, "no answer")
	if took := time.Since(began); took < 7*timeout {
		t.Errorf("given up after %v: 20, 40 and 80 ms were to be waited", took)
	}
}

// TestLateAcknowledgement comes after the second attempt.
func TestLateAcknowledgement(t *testing.T) {
	b := newBed(t, 10, 20*time.Millisecond) // the last of them after 40 s
	b.inform(t, 1)
	b.receive(t)
	message, from := b.receive(t)
	b.acknowledge(t, message, from, 0)
	b.hears(t, true, "")
}

// TestRefusedPort: nobody listens, which costs no attempt before its time; the
// receiver that comes up meanwhile gets the inform.
func TestRefusedPort(t *testing.T) {
	b := newBed(t, 10, 20*time.Millisecond)
	address := b.receiver.LocalAddr().(*net.UDPAddr)
	b.receiver.Close()
	b.inform(t, 1)
	<-b.medium.written
	<-b.medium.written // two attempts were refused
	var err error
	if b.receiver, err = net.ListenUDP("udp4", address); err != nil {
		t.Fatal(err)
	}
	message, from := b.receive(t)
	b.acknowledge(t, message, from, 0)
	b.hears(t, true, "")
}

// TestRefusal: an answer that is an error is told, after the receiver had its
// time to be mended.
func TestRefusal(t *testing.T) {
	b := newBed(t, 1, 300*time.Millisecond)
	b.inform(t, 1)
	for range 2 {
		message, from := b.receive(t)
		b.acknowledge(t, message, from, 16)
	}
	b.hears(t, false, "error-status 16")
}

// TestCardGone: a card without power repeats nothing.
func TestCardGone(t *testing.T) {
	b := newBed(t, 10, 30*time.Millisecond)
	b.inform(t, 1)
	b.receive(t)
	b.card.mu.Lock()
	b.card.dev.Card.State = snap.CardOff
	b.card.mu.Unlock()
	b.hears(t, false, "went away")
}

// TestFullQueue: more than can wait push out the oldest, and the bench hears of
// each.
func TestFullQueue(t *testing.T) {
	b := newBed(t, 0, 20*time.Millisecond)
	for range cap(b.medium.written) { // the courier stands still in its first write
		b.medium.written <- struct{}{}
	}
	b.inform(t, 0)
	b.receive(t) // it is on its way and waits no more
	const more = 3
	for id := range int32(queued + more) {
		b.inform(t, id+1)
	}
	for range cap(b.medium.written) {
		<-b.medium.written
	}
	b.hears(t, false, "no answer")
	for range more {
		b.hears(t, false, "too many")
	}
	message, _ := b.receive(t)
	var m ber.Message
	if err := m.Decode(message); err != nil || m.PDU.RequestID != more+1 {
		t.Errorf("%v: the next is %d, want %d", err, m.PDU.RequestID, more+1)
	}
}
