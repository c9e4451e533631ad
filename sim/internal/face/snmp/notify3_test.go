package snmp

import (
	"bytes"
	"errors"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/usm"
)

// correspondents are users whose names the receiver's settings can hold.
func correspondents() []snap.User {
	var list []snap.User
	for i, u := range combos() {
		u.Name = fmt.Sprint("user", i)
		list = append(list, u)
	}
	return list
}

// settings make a receiver know u: for traps with the card's engine, for informs
// with its own.
func settings(u snap.User) []string {
	text := u.Name
	if u.Auth != snap.AuthNone {
		text += fmt.Sprintf(" %s %q", toolAuth[u.Auth], u.AuthPassword.Reveal())
	}
	if u.Priv != snap.PrivNone {
		text += fmt.Sprintf(" %s %q", toolPriv[u.Priv], u.PrivPassword.Reveal())
	}
	return []string{"--createUser=" + text, fmt.Sprintf("--createUser=-e 0x%x %s", usm.EngineID("S-1"), text)}
}

// TestReceiver3 sends traps and informs of SNMPv3 with every combination of
// protocols to an independent receiver.
func TestReceiver3(t *testing.T) {
	users := correspondents()
	var all []string
	for _, u := range users {
		all = append(all, settings(u)...)
	}
	address, lines := receiver(t, all...)
	conn, err := net.Dial("udp4", address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	began := time.Now()
	f := tested()
	f.dev.Card.Access = secured(users...).dev.Card.Access
	a := New(f, Config{Clock: func() time.Duration { return time.Since(began) }})
	n := snap.Notification{Kind: snap.NotifyAlarmAdded, AlarmID: 300, Alarm: snap.AlarmLowBattery}
	for i, u := range users {
		t.Run(u.Auth.String()+" "+u.Priv.String(), func(t *testing.T) {
			want := ".1.3.6.1.2.1.33.1.6.2.1.2.300=.1.3.6.1.2.1.33.1.6.3.3"
			e := Envelope{Version: V3, User: u.Name, Level: u.Highest(), RequestID: int32(-i)}
			trap, err := a.Notification(nil, e, n)
			if err != nil {
				t.Fatal(err)
			}
			conn.Write(trap)
			if line := next(t, lines); !strings.Contains(line, want) {
				t.Errorf("trap: %q", line)
			}
			inform, err := a.Inform(e, n)
			if err != nil {
				t.Fatal(err)
			}
			p := a.NewPeer()
			conn.Write(p.Message(inform))
			checkAcknowledged(t, conn, p, inform)
			if line := next(t, lines); !strings.Contains(line, want) {
				t.Errorf("inform: %q", line)
			}
			again, err := a.Inform(e, n)
			if err != nil {
				t.Fatal(err)
			}
			conn.Write(p.Message(again)) // all is known now: one exchange
			if answer := hear(t, conn, p, again); answer != Acknowledged {
				t.Errorf("the second inform: %v", answer)
			}
			next(t, lines)
		})
	}
}

func hear(t *testing.T, conn net.Conn, p *Peer, i *Inform) Answer {
	t.Helper()
	b := make([]byte, 2000)
	conn.SetReadDeadline(time.Now().Add(30 * time.Second))
	n, err := conn.Read(b)
	if err != nil {
		t.Fatal(err)
	}
	answer, _ := p.Hear(b[:n], i)
	return answer
}

// TestReceiver3Refuses has passwords that differ between card and receiver: each
// is told apart.
func TestReceiver3Refuses(t *testing.T) {
	u := combo(snap.AuthSHA1, snap.PrivAES128)
	u.Name = "known"
	theirs := u
	theirs.AuthPassword = snap.NewSecret("another phrase")
	stranger := u
	stranger.Name = "stranger"
	address, _ := receiver(t, settings(theirs)...)
	conn, err := net.Dial("udp4", address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	a := New(secured(u, stranger), Config{})
	for user, want := range map[string]string{"known": "password", "stranger": "does not know the user"} {
		i, err := a.Inform(Envelope{Version: V3, User: user, Level: snap.AuthPriv, RequestID: 5}, snap.Notification{Kind: snap.NotifyColdStart})
		if err != nil {
			t.Fatal(err)
		}
		p := a.NewPeer()
		conn.Write(p.Message(i))
		b := make([]byte, 2000)
		for range 2 {
			conn.SetReadDeadline(time.Now().Add(30 * time.Second))
			n, err := conn.Read(b)
			if err != nil {
				t.Fatal(err)
			}
			answer, why := p.Hear(b[:n], i)
			if answer == SendAgain {
				conn.Write(p.Message(i))
			} else if answer != Refused || !strings.Contains(why, want) {
				t.Errorf("%s: %v %q", user, answer, why)
			}
		}
	}
}

// far is the receiver of an inform, played by an agent with the same users: its
// answers to informs are made here, its reports are the agent's own.
type far struct {
	*Agent
	source *fake
	u      snap.User
	engine string
}

func newFar(u snap.User, serial string) *far {
	f := secured(u)
	f.change(func(d *snap.Device) { d.Card.Identity.SerialNumber = serial })
	return &far{Agent: New(f, Config{}), source: f, u: u, engine: usm.EngineID(serial)}
}

// answer is what the receiver sends back.
func (r *far) answer(t *testing.T, message []byte) []byte {
	t.Helper()
	reply := r.Handle(bytes.Clone(message), "", nil)
	if len(reply) == 0 || r.counters.Load(model.UnknownPDUHandlers) == 0 {
		return reply
	}
	// Only an inform that passed every check comes to this: acknowledge it.
	r.counters.Reset()
	var m ber.V3Message
	var sec usm.Params
	if m.Decode(message) != nil || sec.Decode(m.Security) != nil {
		t.Fatal("the inform does not decode")
	}
	key := testMasters.For(&r.u, r.engine)
	content := m.Plain
	if r.u.Highest() == snap.AuthPriv {
		data := bytes.Clone(m.Cipher)
		key.Decrypt(data, sec.Boots, sec.Time, sec.Priv)
		reader := ber.NewReader(data)
		content, _ = reader.Expect(ber.Sequence)
	}
	var scope ber.Scope
	var p ber.PDU
	if err := ber.DecodeScoped(content, &scope, &p); err != nil {
		t.Fatal(err)
	}
	s := sealed{id: m.ID, maxSize: 1472, level: r.u.Highest(), key: key, scope: scope, params: sec, serial: 3}
	out, pdu := ber.Open(s.open(nil), ber.Response)
	for _, field := range [...]int32{p.RequestID, 0, 0} {
		out = ber.AppendInt(out, ber.Integer, int64(field))
	}
	out = ber.AppendString(out, ber.Sequence, p.Raw)
	return s.close(ber.Close(out, pdu))
}

// deliver plays the exchange; it returns the answers in order.
func deliver(t *testing.T, p *Peer, i *Inform, to *far) (answers []Answer) {
	t.Helper()
	for range 6 {
		reply := to.answer(t, p.Message(i))
		answer, _ := p.Hear(reply, i)
		answers = append(answers, answer)
		if answer != SendAgain {
			return answers
		}
	}
	return answers
}

func TestPeer(t *testing.T) {
	u := combo(snap.AuthSHA256, snap.PrivAES128)
	f := secured(u)
	clock := time.Duration(0)
	a := New(f, Config{Clock: func() time.Duration { return clock }})
	p, to := a.NewPeer(), newFar(u, "FAR-1")
	inform := func() *Inform {
		t.Helper()
		i, err := a.Inform(Envelope{Version: V3, User: u.Name, Level: snap.AuthPriv, RequestID: 9}, snap.Notification{Kind: snap.NotifyColdStart})
		if err != nil {
			t.Fatal(err)
		}
		return i
	}
	step := func(name string, want ...Answer) {
		t.Helper()
		if got := deliver(t, p, inform(), to); fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s: %v, want %v", name, got, want)
		}
	}
	step("at first its engine, then its time", SendAgain, SendAgain, Acknowledged)
	step("known", Acknowledged)

	clock += 149 * time.Second
	to.source.now += 300 * vtime.Second
	step("its clock runs faster", SendAgain, Acknowledged)
	step("known", Acknowledged)
	to.source.change(func(d *snap.Device) { d.Card.Boots, d.Card.StartedAt = 7, to.source.now })
	step("it has restarted", SendAgain, Acknowledged)
	to = newFar(u, "FAR-2")
	step("it is another engine", SendAgain, SendAgain, Acknowledged)

	i := inform()
	first := bytes.Clone(p.Message(i))
	clock += 100 * time.Second
	if second := p.Message(i); !bytes.Equal(first, second) {
		t.Errorf("repeated as %x, first as %x", second, first)
	}
	clock += 100 * time.Second
	to.source.now += 200 * vtime.Second
	if got := deliver(t, p, i, to); fmt.Sprint(got) != fmt.Sprint([]Answer{SendAgain, Acknowledged}) {
		t.Errorf("repeated after the window: %v", got)
	}

	to.source.change(func(d *snap.Device) { d.Card.Boots = 5 })
	step("it has restarted again", SendAgain, Acknowledged)
	to.source.change(func(d *snap.Device) { d.Card.Boots = 1 })
	step("it has lost its boots", Refused)
	p.Forget()
	step("forgotten", SendAgain, SendAgain, Acknowledged)
}

// TestPeerTrustsNoOne holds what must not be believed.
func TestPeerTrustsNoOne(t *testing.T) {
	u := combo(snap.AuthSHA1, snap.PrivAES128)
	a := New(secured(u), Config{})
	p, to := a.NewPeer(), newFar(u, "FAR-1")
	i, err := a.Inform(Envelope{Version: V3, User: u.Name, Level: snap.AuthPriv, RequestID: 9}, snap.Notification{Kind: snap.NotifyColdStart})
	if err != nil {
		t.Fatal(err)
	}
	deliver(t, p, i, to)
	message := p.Message(i)
	ack := to.answer(t, message)
	for n := range ack {
		bad := bytes.Clone(ack)
		bad[n] ^= 0x10
		if answer, _ := p.Hear(bad, i); answer == Acknowledged {
			t.Errorf("an acknowledgement with octet %d changed was believed", n)
		}
	}
	weak := right(combo(snap.AuthNone, snap.PrivNone))
	weak.engine, weak.user.Name = to.engine, u.Name
	forged := weak.encode(req{kind: ber.Response, id: 9}.pdu())
	id := i.ids[len(i.ids)-1]
	i.ids = append(i.ids, messageID)
	if answer, _ := p.Hear(forged, i); answer != NoAnswer {
		t.Errorf("a response without authentication: %v", answer)
	}
	late := weak.encode(req{kind: ber.Report, id: 9, names: []string{model.Report(model.NotInTimeWindows).String() + ".0"}}.pdu())
	if answer, _ := p.Hear(late, i); answer != NoAnswer {
		t.Errorf("a time without authentication: %v", answer)
	}
	if answer, _ := p.Hear(ack, i); answer != Acknowledged || id == messageID {
		t.Errorf("the true one: %v", answer)
	}
}

func TestNotification3Refused(t *testing.T) {
	u := combo(snap.AuthSHA1, snap.PrivNone)
	u.Views.Notify = view("1.3.6.1.2.1.33", "1.3.6.1.6.3.1.1.5", "-1.3.6.1.2.1.33.1.2")
	a := New(secured(u), Config{})
	for _, tt := range []struct {
		e    Envelope
		n    snap.Notification
		want error
	}{
		{Envelope{User: "eve"}, snap.Notification{Kind: snap.NotifyColdStart}, ErrUser},
		{Envelope{User: u.Name, Level: snap.AuthPriv}, snap.Notification{Kind: snap.NotifyColdStart}, ErrLevel},
		{Envelope{User: u.Name}, snap.Notification{Kind: snap.NotifyColdStart}, ErrView}, // below its level
		{Envelope{User: u.Name, Level: snap.AuthNoPriv}, snap.Notification{Kind: snap.NotifyOnBattery}, ErrView},
		{Envelope{User: u.Name, Level: snap.AuthNoPriv}, snap.Notification{Kind: snap.NotifyAlarmAdded, AlarmID: 2, Alarm: 3}, nil},
		{Envelope{User: u.Name, Level: snap.AuthNoPriv}, snap.Notification{Kind: snap.NotifyColdStart}, nil},
	} {
		tt.e.Version = V3
		if _, err := a.Notification(nil, tt.e, tt.n); !errors.Is(err, tt.want) {
			t.Errorf("%+v, %v: got %v, want %v", tt.e, tt.n.Kind, err, tt.want)
		}
		if _, err := a.Inform(tt.e, tt.n); !errors.Is(err, tt.want) {
			t.Errorf("%+v, %v as an inform: got %v, want %v", tt.e, tt.n.Kind, err, tt.want)
		}
	}
	if got := a.counters.Load(model.OutTraps); got != 4 {
		t.Errorf("counted %d", got)
	}
}

// FuzzHear: no bytes from a receiver make the sender panic or believe that an
// inform arrived that was never acknowledged.
func FuzzHear(f *testing.F) {
	u := fuzzUsers[3]
	a := New(secured(u), Config{})
	to := manager{maxSize: 1472}
	f.Add(to.encode(get3.pdu()))
	f.Add(right(u).encode(req{kind: ber.Response, id: 9}.pdu()))
	f.Add(req{version: ber.V2c, kind: ber.Response, id: 9}.encode())
	f.Fuzz(func(t *testing.T, b []byte) {
		p := a.NewPeer()
		i, err := a.Inform(Envelope{Version: V3, User: u.Name, Level: snap.AuthPriv, RequestID: 9}, snap.Notification{Kind: snap.NotifyColdStart})
		if err != nil {
			t.Fatal(err)
		}
		p.Message(i)
		if answer, _ := p.Hear(bytes.Clone(b), i); answer == Acknowledged {
			t.Fatal("acknowledged")
		}
		if len(p.Message(i)) == 0 {
			t.Fatal("nothing to send")
		}
	})
}

// FuzzHearSealed puts any bytes as a PDU under each protection, so that they get
// past the receiver's keys: nothing panics, and only the acknowledgement is one.
func FuzzHearSealed(f *testing.F) {
	for i := range len(fuzzUsers) + 1 {
		f.Add(uint8(i), req{kind: ber.Response, id: 9}.pdu())
		f.Add(uint8(i), req{kind: ber.Response, id: 9, a: 5}.pdu())
		f.Add(uint8(i), req{kind: ber.Report, id: 9, names: []string{model.Report(model.NotInTimeWindows).String() + ".0"}}.pdu())
		f.Add(uint8(i), req{kind: ber.Report, id: 9, names: []string{model.Report(model.UnknownEngineIDs).String() + ".0"}}.pdu())
		f.Add(uint8(i), []byte{})
	}
	a := New(secured(fuzzUsers...), Config{})
	engine := usm.EngineID("FAR-1")
	f.Fuzz(func(t *testing.T, which uint8, pdu []byte) {
		if len(pdu) > 60000 {
			return
		}
		e, message := Envelope{Version: V2c, RequestID: 9}, enveloped(pdu)
		u := &fuzzUsers[int(which)%len(fuzzUsers)]
		if int(which)%(len(fuzzUsers)+1) < len(fuzzUsers) {
			m := right(*u)
			m.engine, m.context.EngineID = engine, []byte(engine)
			e, message = Envelope{Version: V3, User: u.Name, Level: u.Highest(), RequestID: 9}, m.encode(pdu)
		}
		i, err := a.Inform(e, snap.Notification{Kind: snap.NotifyColdStart})
		if err != nil {
			t.Fatal(err)
		}
		p := a.NewPeer()
		if e.Version == V3 {
			p.know(engine, i.user)
		}
		p.Message(i)
		i.ids = append(i.ids, messageID)
		answer, _ := p.Hear(message, i)
		var got ber.Message
		whole := got.Decode(enveloped(pdu)) == nil && got.PDU.Type == ber.Response && got.PDU.RequestID == 9 && got.PDU.Status == 0
		if (answer == Acknowledged) != whole {
			t.Fatalf("answer %v to %x", answer, pdu)
		}
		if len(p.Message(i)) == 0 {
			t.Fatal("nothing to send")
		}
	})
}

// enveloped is pdu in a message of SNMPv2c.
func enveloped(pdu []byte) []byte {
	b, mark := ber.Open(nil, ber.Sequence)
	b = ber.AppendString(ber.AppendInt(b, ber.Integer, ber.V2c), ber.OctetString, "alerts")
	return ber.Close(append(b, pdu...), mark)
}
