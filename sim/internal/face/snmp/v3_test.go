package snmp

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/usm"
)

// manager is a manager of our own that can do everything wrong.
type manager struct {
	user    snap.User
	level   snap.SecurityLevel
	engine  string
	boots   int32
	time    int32
	context ber.Scope
	maxSize int
	flags   byte // in place of those that the level has, if mask
	mask    bool
	model   int64 // of security; 0 means the user-based one
	spoil   func(message []byte) []byte
}

// right is a manager that does everything right with demo's card.
func right(u snap.User) manager {
	engine := usm.EngineID("S-1")
	return manager{user: u, level: u.Highest(), engine: engine, boots: 1, time: 90, maxSize: 65000,
		context: ber.Scope{EngineID: []byte(engine)}}
}

const messageID = 1<<31 - 1

// testMasters spares the tests making the same keys again.
var testMasters usm.Masters

// pdu is the PDU of a request in short form.
func (r req) pdu() []byte {
	var m struct{ raw []byte }
	reader := ber.NewReader(r.encode())
	content, _ := reader.Expect(ber.Sequence)
	reader = ber.NewReader(content)
	reader.Next()
	_, community, _ := reader.Next()
	m.raw = content[3+2+len(community):]
	return m.raw
}

// encode is the manager's message around pdu.
func (m manager) encode(pdu []byte) []byte {
	s := sealed{id: messageID, maxSize: m.maxSize, reportable: true, level: m.level, serial: 77,
		params: usm.Params{EngineID: []byte(m.engine), Boots: m.boots, Time: m.time, User: []byte(m.user.Name)},
		key:    testMasters.For(&m.user, m.engine), scope: m.context}
	out := s.close(append(s.open(nil), pdu...))
	if m.mask {
		i := bytes.Index(out, []byte{byte(ber.OctetString), 1, s.flags(), byte(ber.Integer), 1, userBased})
		out[i+2] = m.flags
	}
	if m.model != 0 {
		i := bytes.Index(out, []byte{byte(ber.OctetString), 1, s.flags(), byte(ber.Integer), 1, userBased})
		out[i+5] = byte(m.model)
	}
	if m.spoil != nil {
		out = m.spoil(out)
	}
	return out
}

// reply is an answer of SNMPv3, checked and opened with the manager's keys.
type reply struct {
	level snap.SecurityLevel
	sec   usm.Params
	scope ber.Scope
	pdu   ber.PDU
	size  int
}

// ask puts a request to a; nil is silence.
func (m manager) ask(t testing.TB, a *Agent, r req) *reply {
	t.Helper()
	out := a.Handle(m.encode(r.pdu()), "198.51.100.7:40000", nil)
	if len(out) == 0 {
		return nil
	}
	return m.open(t, out)
}

func (m manager) open(t testing.TB, out []byte) *reply {
	t.Helper()
	var msg ber.V3Message
	answer := &reply{size: len(out)}
	if err := msg.Decode(out); err != nil {
		t.Fatalf("%x: %v", out, err)
	}
	if err := answer.sec.Decode(msg.Security); err != nil {
		t.Fatal(err)
	}
	var ok bool
	if answer.level, ok = levelOf(msg.Flags); !ok || msg.Flags&ber.FlagReportable != 0 || msg.ID != messageID || msg.Model != userBased {
		t.Fatalf("header %+v", msg)
	}
	key := testMasters.For(&m.user, string(answer.sec.EngineID))
	if answer.level >= snap.AuthNoPriv && !key.Verify(out, answer.sec.Auth) {
		t.Fatal("the answer is not authentic")
	}
	content := msg.Plain
	if answer.level == snap.AuthPriv {
		if !key.Decrypt(msg.Cipher, answer.sec.Boots, answer.sec.Time, answer.sec.Priv) {
			t.Fatal("the answer cannot be decrypted")
		}
		r := ber.NewReader(msg.Cipher)
		content, _ = r.Expect(ber.Sequence)
	}
	if err := ber.DecodeScoped(content, &answer.scope, &answer.pdu); err != nil {
		t.Fatal(err)
	}
	return answer
}

var get3 = req{version: ber.V2c, kind: ber.GetRequest, id: -77, names: []string{batteryVolt}}

// TestReports does each thing wrong by itself, and several at once for the order
// of the checks of RFC 3414 section 3.2.
func TestReports(t *testing.T) {
	u := combo(snap.AuthSHA256, snap.PrivAES128)
	other := func(level snap.SecurityLevel) func(*manager) {
		return func(m *manager) { m.level = level }
	}
	for _, tt := range []struct {
		name    string
		change  func(*manager)
		kind    ber.Tag
		want    model.Counter // what is counted; 0: nothing that could be reported
		level   snap.SecurityLevel
		id      int32 // the request-id is known unless it was encrypted
		silence bool
		told    snap.USMFault // what the journal is to say
	}{
		{name: "discovery", change: func(m *manager) { *m = manager{maxSize: 1472} }, want: model.UnknownEngineIDs, id: -77},
		{name: "another engine", change: func(m *manager) { m.engine = "other" }, want: model.UnknownEngineIDs},
		{name: "unknown user", told: snap.USMUnknownUser, change: func(m *manager) { m.user.Name = "eve" }, want: model.UnknownUserNames},
		{name: "unknown user without authentication", change: func(m *manager) { m.user.Name = ""; m.level = snap.NoAuthNoPriv }, want: model.UnknownUserNames, id: -77},
		{name: "wrong password", told: snap.USMWrongDigest, change: func(m *manager) { m.user.AuthPassword = snap.NewSecret("wrong password") }, want: model.WrongDigests},
		{name: "wrong protocol", told: snap.USMWrongDigest, change: func(m *manager) { m.user.Auth = snap.AuthSHA512 }, want: model.WrongDigests},
		{name: "one bit", told: snap.USMWrongDigest, change: func(m *manager) { m.spoil = func(b []byte) []byte { b[len(b)-1] ^= 1; return b } }, want: model.WrongDigests},
		{name: "late", change: func(m *manager) { m.time = 90 + 151 }, want: model.NotInTimeWindows, level: snap.AuthNoPriv},
		{name: "early boots", change: func(m *manager) { m.boots = 0 }, want: model.NotInTimeWindows, level: snap.AuthNoPriv},
		{name: "late boots", change: func(m *manager) { m.boots = 2 }, want: model.NotInTimeWindows, level: snap.AuthNoPriv},
		{name: "late without privacy", change: func(m *manager) { m.time, m.level = 1000, snap.AuthNoPriv }, want: model.NotInTimeWindows, level: snap.AuthNoPriv, id: -77},
		{name: "other context", change: func(m *manager) { m.context.Context = []byte("bridge") }, want: model.UnknownContexts, level: snap.AuthPriv, id: -77},
		{name: "other context engine", change: func(m *manager) { m.context.EngineID = []byte("other") }, want: model.UnknownPDUHandlers, level: snap.AuthPriv, id: -77},
		{name: "inform", kind: ber.InformRequest, want: model.UnknownPDUHandlers, level: snap.AuthPriv, id: -77},

		{name: "engine before user", change: func(m *manager) { m.engine, m.user.Name = "other", "eve" }, want: model.UnknownEngineIDs},
		{name: "user before digest and time", told: snap.USMUnknownUser, change: func(m *manager) { m.user.Name, m.boots = "eve", 0 }, want: model.UnknownUserNames},
		{name: "digest before time", told: snap.USMWrongDigest, change: func(m *manager) { m.user.AuthPassword, m.boots = snap.NewSecret("wrong password"), 0 }, want: model.WrongDigests},
		{name: "time before context", change: func(m *manager) { m.time, m.context.Context = 9000, []byte("x") }, want: model.NotInTimeWindows, level: snap.AuthNoPriv},

		{name: "wrong privacy password", told: snap.USMGarbled, change: func(m *manager) { m.user.PrivPassword = snap.NewSecret("wrong password") }, silence: true},
		{name: "trap", kind: ber.TrapV2, silence: true},
		{name: "response", kind: ber.Response, silence: true},
		{name: "trap from another engine", kind: ber.TrapV2, change: func(m *manager) { m.engine, m.level = "other", snap.NoAuthNoPriv },
			want: model.UnknownEngineIDs, silence: true},
		{name: "privacy without authentication", change: func(m *manager) { m.mask, m.flags = true, ber.FlagPriv|ber.FlagReportable }, silence: true},
		{name: "other security model", change: func(m *manager) { m.model = 4 }, silence: true},
		{name: "not reportable", change: func(m *manager) {
			m.engine, m.mask, m.flags = "other", true, ber.FlagAuth|ber.FlagPriv
		}, want: model.UnknownEngineIDs, silence: true},
		{name: "early in the window", change: func(m *manager) { m.time = 240 }},
		{name: "below the user's level", told: snap.USMNotPermitted, change: other(snap.AuthNoPriv)},
		{name: "right", change: func(*manager) {}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a, m, r := New(secured(u), Config{}), right(u), get3
			if tt.change != nil {
				tt.change(&m)
			}
			if tt.kind != 0 {
				r.kind = tt.kind
			}
			answer := m.ask(t, a, r)
			checkReportCounters(t, a, tt.want)
			checkTold(t, a, tt.told)
			if (answer == nil) != tt.silence {
				t.Fatalf("got %+v", answer)
			}
			if answer == nil {
				return
			}
			if tt.want == 0 {
				if answer.pdu.Type != ber.Response || answer.pdu.RequestID != -77 {
					t.Errorf("got %+v", answer.pdu)
				}
				return
			}
			want := []string{fmt.Sprintf("%v.0 %#x 1", model.Report(tt.want), byte(ber.Counter32))}
			if diff := cmp.Diff(want, rows(&ber.Message{PDU: answer.pdu})); diff != "" {
				t.Error(diff)
			}
			if answer.pdu.Type != ber.Report || answer.level != tt.level || answer.pdu.RequestID != tt.id {
				t.Errorf("%#x at %v with request-id %d", byte(answer.pdu.Type), answer.level, answer.pdu.RequestID)
			}
			if string(answer.sec.EngineID) != usm.EngineID("S-1") || answer.sec.Boots != 1 || answer.sec.Time != 90 {
				t.Errorf("engine %x, boots %d, time %d", answer.sec.EngineID, answer.sec.Boots, answer.sec.Time)
			}
		})
	}
}

// checkReportCounters: of what can be reported, nothing but want was counted.
func checkReportCounters(t *testing.T, a *Agent, want model.Counter) {
	t.Helper()
	for k := model.UnknownPDUHandlers; k <= model.DecryptionErrors; k++ {
		n := uint32(0)
		if k == want {
			n = 1
		}
		if got := a.counters.Load(k); got != n {
			t.Errorf("counter %d is %d, want %d", k, got, n)
		}
	}
}

// checkTold: the engine is told of f, and of nothing if that is nobody's fault.
func checkTold(t *testing.T, a *Agent, f snap.USMFault) {
	t.Helper()
	got := snap.USMOpen
	select {
	case c := <-a.reports:
		if c.Op != snap.OpAuthFail || c.By.Peer == "" {
			t.Errorf("told %+v", c)
		}
		got = snap.USMFault(c.Code)
	default:
	}
	if got != f {
		t.Errorf("told %v, want %v", got, f)
	}
}

// TestUnsupportedLevel needs users without keys.
func TestUnsupportedLevel(t *testing.T) {
	for _, have := range []snap.User{combo(snap.AuthNone, snap.PrivNone), combo(snap.AuthMD5, snap.PrivNone)} {
		a := New(secured(have), Config{})
		m := right(combo(snap.AuthMD5, snap.PrivAES128))
		m.user.Name = have.Name
		if answer := m.ask(t, a, get3); answer == nil || answer.pdu.Type != ber.Report || answer.level != snap.NoAuthNoPriv {
			t.Errorf("got %+v", answer)
		}
		checkReportCounters(t, a, model.UnsupportedSecLevels)
	}
}

// TestDropped: what is silently dropped is counted.
func TestDropped(t *testing.T) {
	u := combo(snap.AuthSHA1, snap.PrivDES)
	for name, tt := range map[string]struct {
		change func(*manager)
		want   model.Counter
	}{
		"model":  {func(m *manager) { m.model = 2 }, model.UnknownSecurityModels},
		"flags":  {func(m *manager) { m.mask, m.flags = true, ber.FlagPriv }, model.InvalidMsgs},
		"size":   {func(m *manager) { m.maxSize = 483 }, model.InASNParseErrs},
		"cipher": {func(m *manager) { m.mask, m.flags = true, ber.FlagAuth }, model.InASNParseErrs},
		"nonsense": {func(m *manager) { m.user.PrivPassword = snap.NewSecret("wrong password") },
			model.InASNParseErrs},
		"cut": {func(m *manager) { m.spoil = func(b []byte) []byte { return b[:len(b)-1] } }, model.InASNParseErrs},
	} {
		a, m := New(secured(u), Config{}), right(u)
		tt.change(&m)
		if answer := m.ask(t, a, get3); answer != nil {
			t.Errorf("%s: got %+v", name, answer)
		}
		if a.counters.Load(tt.want) != 1 || a.counters.Load(model.OutPkts) != 0 {
			t.Errorf("%s: counter %d is %d", name, tt.want, a.counters.Load(tt.want))
		}
	}
}

// TestVersionsOff: each version can be switched off by itself.
func TestVersionsOff(t *testing.T) {
	u := combo(snap.AuthNone, snap.PrivNone)
	for off := range 3 {
		f := secured(u)
		f.change(func(d *snap.Device) {
			access := *d.Card.Access
			access.V1, access.V2c, access.V3 = off != 0, off != 1, off != 2
			d.Card.Access = &access
		})
		a := New(f, Config{})
		v1 := plain
		v1.version = ber.V1
		got := []bool{ask(t, a, v1) == nil, ask(t, a, plain) == nil, right(u).ask(t, a, get3) == nil}
		want := []bool{off == 0, off == 1, off == 2}
		if diff := cmp.Diff(want, got); diff != "" || a.counters.Load(model.InBadVersions) != 1 {
			t.Errorf("version %d off: %s, counted %d", off, diff, a.counters.Load(model.InBadVersions))
		}
	}
}

// TestGarbledReport: by choice, what decrypts to nonsense is reported.
func TestGarbledReport(t *testing.T) {
	for _, priv := range []snap.PrivProtocol{snap.PrivDES, snap.PrivAES256Reeder} {
		u := combo(snap.AuthSHA1, priv)
		f := secured(u)
		f.change(func(d *snap.Device) {
			access := *d.Card.Access
			access.ReportGarbled = true
			d.Card.Access = &access
		})
		a, m := New(f, Config{}), right(u)
		m.user.PrivPassword = snap.NewSecret("wrong password")
		if answer := m.ask(t, a, get3); answer == nil || answer.pdu.Type != ber.Report || answer.pdu.RequestID != 0 {
			t.Errorf("got %+v", answer)
		}
		checkReportCounters(t, a, model.DecryptionErrors)
	}
}

// TestPlainWhereCipherBelongs: a message that claims privacy and has none is
// signed rightly and still refused.
func TestPlainWhereCipherBelongs(t *testing.T) {
	u := combo(snap.AuthSHA1, snap.PrivAES128)
	m := right(u)
	m.level = snap.AuthNoPriv
	message := m.encode(get3.pdu())
	var msg ber.V3Message
	var sec usm.Params
	i := bytes.Index(message, []byte{byte(ber.OctetString), 1, ber.FlagAuth | ber.FlagReportable, byte(ber.Integer), 1, userBased})
	message[i+2] |= ber.FlagPriv
	if msg.Decode(message) != nil || sec.Decode(msg.Security) != nil {
		t.Fatal("does not decode")
	}
	clear(sec.Auth)
	key := testMasters.For(&u, m.engine)
	key.Sign(message, bytes.LastIndex(message[:len(message)-len(msg.Plain)], sec.Auth))
	a := New(secured(u), Config{})
	if answer := m.open(t, a.Handle(message, "", nil)); answer.pdu.Type != ber.Report {
		t.Errorf("got %+v", answer)
	}
	checkReportCounters(t, a, model.DecryptionErrors)
}

// TestReplay sends a recorded write again after the window, and after a restart.
func TestReplay(t *testing.T) {
	u := combo(snap.AuthSHA256, snap.PrivAES128)
	f := secured(u)
	a := New(f, Config{})
	recorded := right(u).encode(write(ber.V2c, "", "sysName", str("replayed")).pdu())
	send := func() int {
		a.Handle(bytes.Clone(recorded), "", nil)
		return len(f.submitted())
	}
	if send() != 1 {
		t.Fatal("the write did not arrive")
	}
	f.now += 150 * vtime.Second
	if send() != 1 { // within the window the model has no defence (RFC 3414 section 1.2)
		t.Error("refused within the window")
	}
	f.now += vtime.Second
	if send() != 0 || a.counters.Load(model.NotInTimeWindows) != 1 {
		t.Error("replayed outside the window")
	}
	f.change(func(d *snap.Device) { d.Card.Boots++; d.Card.StartedAt = f.now - 90*vtime.Second })
	if send() != 0 || a.counters.Load(model.NotInTimeWindows) != 1 {
		t.Error("replayed after a restart")
	}
}

// TestEngineTime follows the card's clock or, if so chosen, the real one.
func TestEngineTime(t *testing.T) {
	for _, real := range []bool{false, true} {
		f := secured(combo(snap.AuthNone, snap.PrivNone))
		f.change(func(d *snap.Device) {
			access := *d.Card.Access
			access.RealEngineTime = real
			d.Card.Access = &access
		})
		clock := time.Hour
		a := New(f, Config{Clock: func() time.Duration { return clock }})
		told := func() string {
			m := manager{maxSize: 1472}
			answer := m.ask(t, a, get3)
			return fmt.Sprint(answer.sec.Boots, " ", answer.sec.Time)
		}
		var got []string
		got = append(got, told())
		f.now += 600 * vtime.Second
		clock += 10 * time.Second
		got = append(got, told())
		f.change(func(d *snap.Device) { d.Card.Boots, d.Card.StartedAt = 2, f.now })
		got = append(got, told())
		f.now += 60 * vtime.Second
		clock += time.Second
		got = append(got, told())
		want := "1 90, 1 690, 2 0, 2 60"
		if real {
			want = "1 90, 1 100, 2 0, 2 1"
		}
		if g := strings.Join(got, ", "); g != want {
			t.Errorf("real %v: %s, want %s", real, g, want)
		}
	}
}
