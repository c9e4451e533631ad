package snmp

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// tested is demo after a battery test.
func tested() *fake {
	f := demo()
	f.change(func(d *snap.Device) {
		d.Test = snap.Test{ID: snap.TestQuickBattery, SpinLock: 2, Result: snap.ResultWarning, Detail: "weak",
			Started: 60 * vtime.Second, Ended: 70 * vtime.Second}
	})
	return f
}

const (
	upsTraps = "1.3.6.1.2.1.33.2"
	own      = "1.3.6.1.4.1.32473.1"
	card     = own + ".1"
)

// port is what linkDown and linkUp carry (RFC 2863).
func port(state string) []string {
	return []string{"1.3.6.1.2.1.2.2.1.1.1 = 1", "1.3.6.1.2.1.2.2.1.7.1 = 1", "1.3.6.1.2.1.2.2.1.8.1 = " + state}
}

// notices is every notification as it must arrive: in SNMPv1 as enterprise,
// generic and specific number (RFC 3584 section 3.2), in SNMPv2c as identity.
var notices = []struct {
	n                 snap.Notification
	enterprise        string
	generic, specific int
	identity          string
	objects           []string
}{
	{snap.Notification{Kind: snap.NotifyOnBattery}, upsTraps, 6, 1, upsTraps + ".1",
		[]string{"1.3.6.1.2.1.33.1.2.3.0 = 17", "1.3.6.1.2.1.33.1.2.2.0 = 60", "1.3.6.1.2.1.33.1.9.7.0 = 5"}},
	{snap.Notification{Kind: snap.NotifyTestCompleted}, upsTraps, 6, 2, upsTraps + ".2",
		[]string{"1.3.6.1.2.1.33.1.7.1.0 = .1.3.6.1.2.1.33.1.7.7.4", "1.3.6.1.2.1.33.1.7.2.0 = 2", "1.3.6.1.2.1.33.1.7.3.0 = 2",
			"1.3.6.1.2.1.33.1.7.4.0 = weak", "1.3.6.1.2.1.33.1.7.5.0 = 5000", "1.3.6.1.2.1.33.1.7.6.0 = 1000"}},
	{snap.Notification{Kind: snap.NotifyAlarmAdded, AlarmID: 300, Alarm: snap.AlarmLowBattery}, upsTraps, 6, 3, upsTraps + ".3",
		[]string{"1.3.6.1.2.1.33.1.6.2.1.1.300 = 300", "1.3.6.1.2.1.33.1.6.2.1.2.300 = .1.3.6.1.2.1.33.1.6.3.3"}},
	{snap.Notification{Kind: snap.NotifyAlarmRemoved, AlarmID: 77, Alarm: snap.AlarmOnBattery}, upsTraps, 6, 4, upsTraps + ".4",
		[]string{"1.3.6.1.2.1.33.1.6.2.1.1.77 = 77", "1.3.6.1.2.1.33.1.6.2.1.2.77 = .1.3.6.1.2.1.33.1.6.3.2"}},
	{snap.Notification{Kind: snap.NotifyColdStart}, card, 0, 0, "1.3.6.1.6.3.1.1.5.1", nil},
	{snap.Notification{Kind: snap.NotifyWarmStart}, card, 1, 0, "1.3.6.1.6.3.1.1.5.2", nil},
	{snap.Notification{Kind: snap.NotifyAuthFailure}, card, 4, 0, "1.3.6.1.6.3.1.1.5.5", nil},
	{snap.Notification{Kind: snap.NotifyLinkDown}, card, 2, 0, "1.3.6.1.6.3.1.1.5.3", port("2")},
	{snap.Notification{Kind: snap.NotifyLinkUp}, card, 3, 0, "1.3.6.1.6.3.1.1.5.4", port("1")},
	{snap.Notification{Kind: snap.NotifyGroupSwitched, Row: 2, Live: true}, own, 6, 1, own + ".0.1",
		[]string{own + ".2.1.1.2.2 = racks", own + ".2.1.1.3.2 = 1"}},
	{snap.Notification{Kind: snap.NotifyGroupSwitched, Row: 1}, own, 6, 1, own + ".0.1",
		[]string{own + ".2.1.1.2.1 = desks", own + ".2.1.1.3.1 = 2"}},
	{snap.Notification{Kind: snap.NotifyProbeAlert, Row: 2, Cause: snap.CauseTemperature}, own, 6, 2, own + ".0.2",
		[]string{own + ".2.3.1.2.2 = aisle", own + ".2.3.1.3.2 = 3", own + ".2.3.1.5.2 = 412", own + ".2.3.1.25.2 = 3"}},
	{snap.Notification{Kind: snap.NotifyContact, Row: 1, Contact: snap.ContactFault}, own, 6, 4, own + ".0.4",
		[]string{own + ".2.4.1.2.1 = door", own + ".2.4.1.3.1 = 3", own + ".2.4.1.9.1 = 3"}},
	{snap.Notification{Kind: snap.NotifyProbeBetter, Row: 1}, own, 6, 3, own + ".0.3",
		[]string{own + ".2.3.1.2.1 = inlet", own + ".2.3.1.3.1 = 1", own + ".2.3.1.5.1 = 215", own + ".2.3.1.25.1 = 2"}},
	{snap.Notification{Kind: snap.NotifyTry, To: 3}, own, 6, 5, own + ".0.5",
		[]string{"1.3.6.1.2.1.1.5.0 = ups-1", "1.3.6.1.2.1.1.6.0 = Room 1"}},
	{snap.Notification{Kind: snap.NotifyRisen, Event: snap.AlertEvent(snap.AlarmOnBypass), Alarm: snap.AlarmOnBypass, AlarmID: 9}, own, 6, 6, own + ".0.6",
		[]string{"1.3.6.1.2.1.1.5.0 = ups-1", "1.3.6.1.2.1.33.1.6.2.1.1.9 = 9", "1.3.6.1.2.1.33.1.6.2.1.2.9 = .1.3.6.1.2.1.33.1.6.3.9"}},
	{snap.Notification{Kind: snap.NotifyRisen, Event: snap.EventGroup, Row: 2}, own, 6, 6, own + ".0.6",
		[]string{"1.3.6.1.2.1.1.5.0 = ups-1", own + ".2.1.1.2.2 = racks"}},
	{snap.Notification{Kind: snap.NotifyRisen, Event: snap.EventProbeLost, Row: 2}, own, 6, 6, own + ".0.6",
		[]string{"1.3.6.1.2.1.1.5.0 = ups-1", own + ".2.3.1.2.2 = aisle", own + ".2.3.1.3.2 = 3"}},
	{snap.Notification{Kind: snap.NotifyRisen, Event: snap.EventContact, Row: 1}, own, 6, 6, own + ".0.6",
		[]string{"1.3.6.1.2.1.1.5.0 = ups-1", own + ".2.4.1.2.1 = door"}},
	{snap.Notification{Kind: snap.NotifyRisen, Event: snap.EventLinkDown}, own, 6, 6, own + ".0.6",
		[]string{"1.3.6.1.2.1.1.5.0 = ups-1"}},
}

// received is what an independent decoder makes of a notification's variables.
func received(p *gosnmp.SnmpPacket) []string {
	var list []string
	for _, v := range p.Variables {
		value := v.Value
		if b, ok := value.([]byte); ok {
			value = string(b)
		}
		list = append(list, fmt.Sprintf("%s = %v", strings.TrimPrefix(v.Name, "."), value))
	}
	return list
}

func TestNotificationsDecode(t *testing.T) {
	a := New(tested(), Config{})
	address := netip.MustParseAddr("192.0.2.10")
	decoder := &gosnmp.GoSNMP{Version: gosnmp.Version2c, Community: "alerts"}
	for _, tt := range notices {
		t.Run(tt.n.Kind.String(), func(t *testing.T) {
			b, err := a.Notification(nil, Envelope{Version: V1, Community: "alerts", AgentAddr: address}, tt.n)
			if err != nil {
				t.Fatal(err)
			}
			p, err := decoder.UnmarshalTrap(b, false)
			if err != nil {
				t.Fatal(err)
			}
			got := fmt.Sprint(p.Enterprise, " ", p.GenericTrap, " ", p.SpecificTrap, " ", p.Timestamp, " ", p.AgentAddress, " ", p.Community)
			if want := fmt.Sprint(".", tt.enterprise, " ", tt.generic, " ", tt.specific, " 9050 192.0.2.10 alerts"); got != want {
				t.Errorf("got %s, want %s", got, want)
			}
			if diff := cmp.Diff(tt.objects, received(p)); diff != "" {
				t.Error(diff)
			}
			head := []string{"1.3.6.1.2.1.1.3.0 = 9050", "1.3.6.1.6.3.1.1.4.1.0 = ." + tt.identity}
			for kind, inform := range map[gosnmp.PDUType]bool{gosnmp.SNMPv2Trap: false, gosnmp.InformRequest: true} {
				e := Envelope{Version: V2c, Community: "alerts", RequestID: 12345}
				if inform {
					i, err := a.Inform(e, tt.n)
					if err != nil {
						t.Fatal(err)
					}
					b = a.NewPeer().Message(i)
				} else if b, err = a.Notification(b, e, tt.n); err != nil {
					t.Fatal(err)
				}
				p, err := decoder.UnmarshalTrap(b, false)
				if err != nil {
					t.Fatal(err)
				}
				if p.PDUType != kind || p.RequestID != 12345 || p.Community != "alerts" {
					t.Errorf("got %v, request-id %d", p.PDUType, p.RequestID)
				}
				if diff := cmp.Diff(append(head, tt.objects...), received(p)); diff != "" {
					t.Error(diff)
				}
			}
		})
	}
	if got, want := a.counters.Load(model.OutTraps), uint32(3*len(notices)); got != want {
		t.Errorf("counted %d notifications, want %d", got, want)
	}
}

func TestNotificationRefused(t *testing.T) {
	a := New(demo(), Config{})
	tests := []struct {
		e    Envelope
		kind snap.NotifyKind
		want error
	}{
		{Envelope{Version: V1, inform: true}, snap.NotifyOnBattery, ErrInform},
		{Envelope{Version: V3}, snap.NotifyOnBattery, ErrVersion}, // it is off
		{Envelope{Version: 2}, snap.NotifyOnBattery, ErrVersion},
		{Envelope{Version: V2c}, 0, ErrNotification},
		{Envelope{Version: V2c}, snap.NotifyKinds, ErrNotification},
	}
	for _, tt := range tests {
		if _, err := a.Notification(nil, tt.e, snap.Notification{Kind: tt.kind}); !errors.Is(err, tt.want) {
			t.Errorf("%+v of %d: got %v, want %v", tt.e, tt.kind, err, tt.want)
		}
	}
	if a.counters.Load(model.OutTraps) != 0 {
		t.Error("counted what was not sent")
	}
	if _, ok := VersionByName("v4"); ok {
		t.Error("there is no v4")
	}
}

func TestAcknowledgement(t *testing.T) {
	a := New(demo(), Config{})
	p := a.NewPeer()
	i, err := a.Inform(Envelope{Version: V2c, Community: "alerts", RequestID: -9}, snap.Notification{Kind: snap.NotifyColdStart})
	if err != nil {
		t.Fatal(err)
	}
	if first, second := p.Message(i), p.Message(i); !bytes.Equal(first, second) || len(first) == 0 {
		t.Errorf("sent %x, then %x", first, second)
	}
	response := req{version: ber.V2c, community: "alerts", kind: ber.Response, id: -9}
	if answer, why := p.Hear(response.encode(), i); answer != Acknowledged {
		t.Errorf("got %v %q", answer, why)
	}
	response.a = 5
	if answer, why := p.Hear(response.encode(), i); answer != Refused || why == "" {
		t.Errorf("got %v %q", answer, why)
	}
	for name, message := range map[string][]byte{
		"v1":      req{version: ber.V1, kind: ber.Response, id: -9}.encode(),
		"request": req{version: ber.V2c, kind: ber.GetRequest, id: -9}.encode(),
		"another": req{version: ber.V2c, kind: ber.Response, id: 9}.encode(),
		"garbage": []byte("?"),
	} {
		if answer, _ := p.Hear(message, i); answer != NoAnswer {
			t.Errorf("%s was taken for one", name)
		}
	}
}

// TestReceiver sends everything to an independent trap receiver, which prints
// what it understood, and takes its acknowledgements of informs.
func TestReceiver(t *testing.T) {
	u := combo(snap.AuthSHA256, snap.PrivAES128)
	u.Name = "anna"
	address, lines := receiver(t, settings(u)...)
	conn, err := net.Dial("udp4", address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	f := tested()
	f.dev.Card.Access = secured(u).dev.Card.Access
	a := New(f, Config{})
	kinds := map[snap.NotifyKind]bool{}
	for _, tt := range notices {
		kinds[tt.n.Kind] = true
		for _, e := range []Envelope{
			{Version: V1, Community: "alerts", AgentAddr: netip.MustParseAddr("192.0.2.10")},
			{Version: V2c, Community: "alerts", RequestID: 1},
			{Version: V2c, Community: "alerts", RequestID: -int32(tt.n.Kind), inform: true},
			{Version: V3, User: u.Name, Level: snap.AuthPriv, RequestID: 1},
			{Version: V3, User: u.Name, Level: snap.AuthPriv, RequestID: int32(tt.n.Kind), inform: true},
		} {
			p, i, b := a.NewPeer(), new(Inform), []byte(nil)
			var err error
			if e.inform {
				if i, err = a.Inform(e, tt.n); err == nil {
					b = p.Message(i)
				}
			} else {
				b, err = a.Notification(nil, e, tt.n)
			}
			if err != nil {
				t.Fatal(err)
			}
			if _, err := conn.Write(b); err != nil {
				t.Fatal(err)
			}
			if e.inform {
				checkAcknowledged(t, conn, p, i)
			}
			line := next(t, lines)
			wants := []string{".1.3.6.1.6.3.1.1.4.1.0=." + tt.identity}
			if e.Version == V1 {
				wants = []string{fmt.Sprintf("192.0.2.10 .%s %d %s", tt.enterprise, tt.generic, printed(tt.generic, tt.specific))}
			}
			for _, object := range tt.objects {
				name, _, _ := strings.Cut(object, " ")
				wants = append(wants, "."+name+"=")
			}
			for _, want := range wants {
				if !strings.Contains(line, want) {
					t.Errorf("%v %+v: got %q, want %q in it", tt.n.Kind, e, line, want)
				}
			}
		}
	}
	if len(kinds) != int(snap.NotifyKinds)-1 {
		t.Errorf("of %d kinds of notification only %v were sent", snap.NotifyKinds-1, kinds)
	}
}

// printed is a specific-trap as the receiver prints it: with a dot if it counts.
func printed(generic, specific int) string {
	if generic == 6 {
		return fmt.Sprint(".", specific)
	}
	return fmt.Sprint(specific)
}

// checkAcknowledged plays the exchange to its end.
func checkAcknowledged(t *testing.T, conn net.Conn, p *Peer, i *Inform) {
	t.Helper()
	b := make([]byte, 2000)
	for range 4 {
		conn.SetReadDeadline(time.Now().Add(30 * time.Second))
		n, err := conn.Read(b)
		if err != nil {
			t.Fatal(err)
		}
		switch answer, why := p.Hear(b[:n], i); answer {
		case Acknowledged:
			return
		case SendAgain:
			if _, err := conn.Write(p.Message(i)); err != nil {
				t.Fatal(err)
			}
		default:
			t.Fatalf("answer %d: %s", answer, why)
		}
	}
	t.Error("not acknowledged after 4 messages")
}

// receiver starts the command-line trap receiver on a free port and returns what
// it prints, line by line, after it said that it is ready.
func receiver(t *testing.T, settings ...string) (address string, lines <-chan string) {
	t.Helper()
	path := checks.Program(t, "snmptrapd")
	free, err := net.ListenPacket("udp4", checks.Loopback()+":0")
	if err != nil {
		t.Fatal(err)
	}
	address = free.LocalAddr().String()
	free.Close()
	// One line each: v1's address, enterprise and numbers (empty in v2), variables.
	args := append([]string{"-f", "-C", "-On", "-Lo", "--disableAuthorization=yes"}, settings...)
	cmd := exec.Command(path, append(args, "-F", "%A %N %w %q %v\\n", "-OQ", "udp:"+address)...)
	cmd.Env = toolEnv(t)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ch := make(chan string, 100)
	go func() {
		defer close(ch)
		for s := bufio.NewScanner(out); s.Scan(); {
			ch <- strings.ReplaceAll(s.Text(), " = ", "=")
		}
	}()
	t.Cleanup(func() {
		cmd.Process.Kill()
		for range ch { // until its output ended
		}
		cmd.Wait()
	})
	for !strings.Contains(next(t, ch), "version") {
	}
	return address, ch
}

func next(t *testing.T, lines <-chan string) string {
	t.Helper()
	select {
	case line, ok := <-lines:
		if !ok {
			t.Fatal("the receiver ended")
		}
		return line
	case <-time.After(time.Minute):
		t.Fatal("the receiver is silent")
	}
	return ""
}
