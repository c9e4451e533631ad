package record

import (
	"bytes"
	"context"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"net"
	"net/netip"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/bundle"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/face/usm"
)

// unit is a source that shows one device, whose time a test can set.
type unit struct {
	mu  sync.Mutex
	dev snap.Device
}

func (u *unit) Device() *snap.Device {
	u.mu.Lock()
	defer u.mu.Unlock()
	d := u.dev
	return &d
}
func (u *unit) Now() vtime.Tick                 { return u.Device().Tick }
func (u *unit) Submit(snap.Command) snap.Result { panic("the recorder wrote") }

var user = snap.User{
	Name: "watcher", Auth: snap.AuthSHA256, Priv: snap.PrivAES128, AuthPassword: snap.NewSecret("first pass phrase"),
	PrivPassword: snap.NewSecret("second pass phrase"), Level: snap.AuthPriv,
	Views: snap.Views{Read: snap.Everything(), Write: snap.Everything(), Notify: snap.Everything()},
}

func demo() *unit {
	access := *snap.DefaultAccess()
	access.V3, access.Users = true, []snap.User{user}
	return &unit{dev: snap.Device{
		Tick: 100 * vtime.Second,
		Card: snap.Card{
			State: snap.CardRunning, Boots: 1, Access: &access,
			Identity: snap.Identity{SerialNumber: "S-1"},
			Settings: snap.Settings{Name: "ups-1", ReadCommunity: snap.NewSecret("watchword"), WriteCommunity: snap.NewSecret("watchword")},
			Address:  snap.Address{State: "fixed", Prefix: netip.MustParsePrefix("192.0.2.10/24")},
		},
		Battery: snap.Battery{Status: snap.BatteryNormal, RuntimeS: 1079, ChargePct: 91, Volts: 73.2},
		Output:  snap.Lines{Count: 1, Lines: [3]snap.Line{{Volts: 230, Watts: 700}}},
	}}
}

// agent answers at a loopback address with what answer makes of a request, nil for
// nothing, and keeps everything that came.
type agent struct {
	at   string
	mu   sync.Mutex
	came [][]byte
}

func serve(t *testing.T, answer func([]byte) []byte) *agent {
	t.Helper()
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	a := &agent{at: conn.LocalAddr().String()}
	go func() {
		buffer := make([]byte, 1<<16)
		for {
			n, peer, err := conn.ReadFrom(buffer)
			if err != nil {
				return
			}
			request := bytes.Clone(buffer[:n])
			a.mu.Lock()
			a.came = append(a.came, bytes.Clone(request))
			a.mu.Unlock()
			if out := answer(request); len(out) > 0 {
				conn.WriteTo(out, peer)
			}
		}
	}()
	return a
}

func (a *agent) requests() [][]byte {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.came
}

func of(u *unit) func([]byte) []byte {
	a := snmp.New(u, snmp.Config{})
	return func(request []byte) []byte { return a.Handle(request, "test", nil) }
}

func login(version string) Login {
	return Login{Version: version, Community: snap.NewSecret("watchword"), User: user}
}

// config records until stop says so of what was written.
func config(at, version string) Config {
	return Config{Agent: at, Login: login(version), Interval: 10 * time.Millisecond, Timeout: 20 * time.Second, Rate: 1e5, Log: func(string) {}}
}

// recorded runs until enough says so, and reads the bundle.
func recorded(t *testing.T, c Config, enough func(text string) bool) (*bundle.Bundle, *Summary) {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	out := &watched{enough: enough, stop: stop}
	s, err := Record(ctx, c, out)
	if err != nil {
		t.Fatal(err)
	}
	b, err := bundle.Read(&out.Buffer)
	if err != nil {
		t.Fatal(err)
	}
	if b.Cut {
		t.Error("the bundle has no end")
	}
	return b, s
}

type watched struct {
	bytes.Buffer
	enough func(string) bool
	stop   func()
}

func (w *watched) Write(p []byte) (int, error) {
	n, err := w.Buffer.Write(p)
	if w.enough(w.String()) {
		w.stop()
	}
	return n, err
}

func count(what string, n int) func(string) bool {
	return func(text string) bool { return strings.Count(text, what) >= n }
}

// operation is the PDU of a request; an encrypted one is decrypted with the user's keys.
func operation(t *testing.T, request []byte) ber.Tag {
	t.Helper()
	var m ber.Message
	if err := m.Decode(request); err == nil {
		return m.PDU.Type
	}
	var m3 ber.V3Message
	var sec usm.Params
	if err := errors.Join(m3.Decode(request), sec.Decode(m3.Security)); err != nil {
		t.Fatalf("%x is no request: %v", request, err)
	}
	content := m3.Plain
	if m3.Cipher != nil {
		key := new(usm.Masters).For(&user, string(sec.EngineID))
		if !key.Decrypt(m3.Cipher, sec.Boots, sec.Time, sec.Priv) {
			t.Fatal("a request that cannot be decrypted")
		}
		r := ber.NewReader(m3.Cipher)
		content, _ = r.Expect(ber.Sequence)
	}
	var scope ber.Scope
	var pdu ber.PDU
	if err := ber.DecodeScoped(content, &scope, &pdu); err != nil {
		t.Fatal(err)
	}
	return pdu.Type
}

// TestReadsAndNeverWrites: in every version everything that the card has under the
// roots is read, and every datagram that was sent is a request to read.
func TestReadsAndNeverWrites(t *testing.T) {
	for _, version := range []string{"1", "2c", "3"} {
		u := demo()
		a := serve(t, of(u))
		b, s := recorded(t, config(a.at, version), count(`"reading"`, 3))
		if len(b.Readings) < 3 || s.Readings != len(b.Readings) || len(b.Gaps) > 0 {
			t.Fatalf("version %s: %d readings, %d gaps", version, len(b.Readings), len(b.Gaps))
		}
		view := model.View{Dev: u.Device(), Now: u.Now()}
		checked := 0
		for _, x := range model.Served(snap.ConformAll) {
			if !strings.HasPrefix(x.OID.String(), "1.3.6.1.2.1.33.1.") {
				continue
			}
			for row := range x.Rows(&view) {
				want := x.At(&view, row)
				got, ok := b.Readings[2].Find(x.OID.Child(x.Instance(&view, row)))
				if !ok || got.Tag != x.Syntax.Tag || x.Syntax.Tag == ber.Integer && got.Int != want.Int {
					t.Errorf("version %s: %s is %v, want %v", version, x.Name, got, want)
				}
				checked++
			}
		}
		if checked < 40 {
			t.Errorf("only %d objects checked", checked)
		}
		for _, request := range a.requests() {
			switch op := operation(t, request); op {
			case ber.GetRequest, ber.GetNextRequest, ber.GetBulkRequest:
			default:
				t.Fatalf("version %s: a request of type %x was sent", version, op)
			}
		}
	}
}

// TestGuard: the socket lets no write through, and nothing that it cannot read.
func TestGuard(t *testing.T) {
	here, there := net.Pipe()
	defer here.Close()
	go io.Copy(io.Discard, there)
	guard := &readOnly{here}
	pdu := []gosnmp.SnmpPDU{{Name: ".1.3.6.1.2.1.1.5.0", Type: gosnmp.OctetString, Value: "x"}}
	for _, c := range []struct {
		version gosnmp.SnmpVersion
		kind    gosnmp.PDUType
		leaves  bool
	}{
		{gosnmp.Version1, gosnmp.GetRequest, true}, {gosnmp.Version1, gosnmp.GetNextRequest, true}, {gosnmp.Version2c, gosnmp.GetBulkRequest, true},
		{gosnmp.Version1, gosnmp.SetRequest, false}, {gosnmp.Version2c, gosnmp.SetRequest, false}, {gosnmp.Version2c, gosnmp.InformRequest, false},
		{gosnmp.Version2c, gosnmp.SNMPv2Trap, false}, {gosnmp.Version2c, gosnmp.GetResponse, false},
	} {
		p := gosnmp.SnmpPacket{Version: c.version, Community: "x", PDUType: c.kind, Variables: pdu}
		message, err := p.MarshalMsg()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := guard.Write(message); (err == nil) != c.leaves {
			t.Errorf("version %v, type %x: %v", c.version, byte(c.kind), err)
		}
	}
	if _, err := guard.Write([]byte("anything")); !errors.Is(err, errNotARead) {
		t.Errorf("what is no message: %v", err)
	}
}

// TestNoWord: nothing in the package so much as names what could write.
func TestNoWord(t *testing.T) {
	entries, err := fs.Glob(os.DirFS("."), "*.go")
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, name := range entries {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		seen++
		ast.Inspect(file, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok && (sel.Sel.Name == "Set" || sel.Sel.Name == "SetRequest" || sel.Sel.Name == "SendTrap") {
				t.Errorf("%s uses %s", name, sel.Sel.Name)
			}
			return true
		})
	}
	if seen < 5 {
		t.Errorf("saw %d files", seen)
	}
}

// TestNoBulk: a card that does not answer get-bulk is read all the same.
func TestNoBulk(t *testing.T) {
	u := demo()
	answer := of(u)
	whole, _ := recorded(t, config(serve(t, answer).at, "2c"), count(`"reading"`, 1))
	deaf := serve(t, func(request []byte) []byte {
		if operation(t, request) == ber.GetBulkRequest {
			return nil
		}
		return answer(request)
	})
	c := config(deaf.at, "2c")
	c.Timeout = 500 * time.Millisecond
	var said []string
	c.Log = func(line string) { said = append(said, line) }
	b, _ := recorded(t, c, count(`"reading"`, 1))
	if got, want := len(b.Readings[0].Objects), len(whole.Readings[0].Objects); got != want {
		t.Errorf("%d objects without get-bulk, %d with", got, want)
	}
	if len(said) != 1 || !strings.Contains(said[0], "from here on get-next") {
		t.Errorf("said %q", said)
	}
}

// TestGapsAndRestarts: a card that falls silent and comes back anew leaves gaps with
// the reason, and counts as restarted.
func TestGapsAndRestarts(t *testing.T) {
	u := demo()
	answer := of(u)
	var mu sync.Mutex
	silent := false
	a := serve(t, func(request []byte) []byte {
		mu.Lock()
		defer mu.Unlock()
		if silent {
			return nil
		}
		return answer(request)
	})
	c := config(a.at, "2c")
	c.Timeout, c.Retries = time.Second, 0
	b, s := recorded(t, c, func(text string) bool {
		mu.Lock()
		defer mu.Unlock()
		gaps := strings.Count(text, `"gap"`)
		silent = strings.Count(text, `"reading"`) >= 2 && gaps < 2
		if gaps == 2 {
			u.mu.Lock()
			u.dev.Card.StartedAt = 99 * vtime.Second
			u.mu.Unlock()
		}
		return strings.Count(text, `"reading"`) >= 4
	})
	if len(b.Gaps) != 2 || b.Gaps[0].Why != "no answer" || len(b.Readings) < 4 {
		t.Errorf("gaps %v, %d readings", b.Gaps, len(b.Readings))
	}
	if s.Clocks.Restarts != 1 {
		t.Errorf("%d restarts, want 1", s.Clocks.Restarts)
	}
}

// TestCircles: an agent whose names do not rise ends the reading, not the program.
func TestCircles(t *testing.T) {
	a := serve(t, func(request []byte) []byte {
		var m ber.Message
		if m.Decode(request) != nil {
			return nil
		}
		name := m.PDU.VarBinds[0].Name.Child(1)
		if len(name) > 12 {
			name = name[:9]
		}
		p := gosnmp.SnmpPacket{Version: gosnmp.Version1, Community: "watchword", PDUType: gosnmp.GetResponse, RequestID: uint32(m.PDU.RequestID),
			Variables: []gosnmp.SnmpPDU{{Name: "." + name.String(), Type: gosnmp.Integer, Value: 1}}}
		out, _ := p.MarshalMsg()
		return out
	})
	_, err := Record(t.Context(), config(a.at, "1"), io.Discard)
	if !IsNoAnswer(err) || !strings.Contains(err.Error(), "goes in circles") {
		t.Errorf("error %v", err)
	}
}

// TestRefusals: who may not read is told why, without the secret.
func TestRefusals(t *testing.T) {
	a := serve(t, of(demo()))
	for _, c := range []struct {
		change func(*snap.User)
		want   string
	}{
		{func(u *snap.User) { u.Name = "nobody" }, "does not know the user"},
		{func(u *snap.User) { u.AuthPassword = snap.NewSecret("another pass phrase") }, "another authentication password"},
	} {
		cfg := config(a.at, "3")
		c.change(&cfg.Login.User)
		_, err := Record(t.Context(), cfg, io.Discard)
		if !IsNoAnswer(err) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v, want %q", err, c.want)
		}
	}
}

// TestNotifications: what the card sends in each version is heard, and an inform is
// acknowledged.
func TestNotifications(t *testing.T) {
	a := serve(t, of(demo()))
	c := config(a.at, "3")
	c.Listen = "127.0.0.1:0"
	at := make(chan string, 1)
	c.Listening = func(where string) { at <- where }
	sent := make(chan error, 1)
	go func() { sent <- sendAll(<-at) }()
	b, _ := recorded(t, c, count(`"notification"`, 5))
	if err := <-sent; err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, n := range b.Notices {
		got[n.Version+"/"+strconv.FormatBool(n.Inform)] = n.Trap.String()
		if len(n.Objects) != 1 || n.Objects[0].Value.Int != 7 {
			t.Errorf("version %s carries %v", n.Version, n.Objects)
		}
	}
	const onBattery = "1.3.6.1.2.1.33.2.0.1"
	for key, want := range map[string]string{"1/false": onBattery, "2c/false": onBattery, "2c/true": onBattery, "3/false": onBattery, "3/true": onBattery} {
		if got[key] != want {
			t.Errorf("%s: heard %q, want %s; all: %v", key, got[key], want, got)
		}
	}
}

func sendAll(at string) error {
	value := gosnmp.SnmpPDU{Name: ".1.3.6.1.2.1.33.1.2.2.0", Type: gosnmp.Integer, Value: 7}
	v2 := []gosnmp.SnmpPDU{
		{Name: ".1.3.6.1.2.1.1.3.0", Type: gosnmp.TimeTicks, Value: uint32(5)},
		{Name: ".1.3.6.1.6.3.1.1.4.1.0", Type: gosnmp.ObjectIdentifier, Value: ".1.3.6.1.2.1.33.2.0.1"}, value,
	}
	for _, c := range []struct {
		version string
		trap    gosnmp.SnmpTrap
	}{
		{"1", gosnmp.SnmpTrap{Enterprise: ".1.3.6.1.2.1.33.2", AgentAddress: "192.0.2.1", GenericTrap: 6, SpecificTrap: 1, Variables: []gosnmp.SnmpPDU{value}}},
		{"2c", gosnmp.SnmpTrap{Variables: v2}},
		{"2c", gosnmp.SnmpTrap{Variables: v2, IsInform: true}},
		{"3", gosnmp.SnmpTrap{Variables: v2}},
		{"3", gosnmp.SnmpTrap{Variables: v2, IsInform: true}},
	} {
		host, port, _ := net.SplitHostPort(at)
		number, _ := strconv.Atoi(port)
		l := login(c.version)
		g := &gosnmp.GoSNMP{Target: host, Port: uint16(number), Version: versions[c.version], Community: "watchword", Timeout: 20 * time.Second, MaxOids: 60}
		if c.version == "3" {
			l.secure(g)
		}
		if c.version == "3" && !c.trap.IsInform { // of an inform the receiver is the authority, and asked who it is
			g.MsgFlags = gosnmp.AuthPriv
			g.SecurityParameters.(*gosnmp.UsmSecurityParameters).AuthoritativeEngineID = "\x80\x00\x7e\xd9\x05test"
		}
		if err := g.Connect(); err != nil {
			return err
		}
		if _, err := g.SendTrap(c.trap); err != nil {
			return err
		}
		g.Conn.Close()
	}
	return nil
}

// FuzzHear: nothing that comes unasked makes the listener panic.
func FuzzHear(f *testing.F) {
	for _, m := range []string{
		"\x30\x05\x02\x01\x03\x04\x00", // makes gosnmp v1.47.0 panic
		"0\x82\x00\x2f\x02\x01\x00\x04\x01x\xa4\x27\x06\x03+\x06\x01@\x04\xc0\x00\x02\x01\x02\x01\x06\x02\x01\x01C\x01\x050\x10\x30\x0e\x06\x08+\x06\x01\x02\x01\x01\x01\x00\x02\x01\x01",
	} {
		f.Add([]byte(m))
	}
	p := gosnmp.SnmpPacket{Version: gosnmp.Version2c, Community: "x", PDUType: gosnmp.InformRequest, Variables: []gosnmp.SnmpPDU{
		{Name: ".1.3.6.1.2.1.1.3.0", Type: gosnmp.TimeTicks, Value: uint32(5)},
		{Name: ".1.3.6.1.6.3.1.1.4.1.0", Type: gosnmp.ObjectIdentifier, Value: ".1.3.6.1.2.1.33.2.0.1"}}}
	message, err := p.MarshalMsg()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(message)
	e := newEar(user, "a recorder")
	f.Fuzz(func(t *testing.T, message []byte) {
		n, answer, ok := e.hear(bytes.Clone(message), 3)
		if ok && len(n.Trap) < 2 {
			t.Errorf("a notification of %v", n.Trap)
		}
		if answer != nil {
			var m ber.Message
			var m3 ber.V3Message
			if err := m.Decode(answer); err == ber.ErrVersion {
				if err := m3.Decode(answer); err != nil {
					t.Errorf("the answer of SNMPv3 %x: %v", answer, err)
				}
			} else if err != nil || m.PDU.Type != ber.Response {
				t.Errorf("the acknowledgement %x: %v", answer, err)
			}
		}
	})
}
