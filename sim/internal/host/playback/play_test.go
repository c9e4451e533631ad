package playback

import (
	"bytes"
	"context"
	"net"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/bundle"
	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/host/record"
)

func object(name string, v ber.Value) bundle.Object {
	return bundle.Object{Name: ber.MustOID(name), Value: v}
}

// recording is of a card that is there twice with a gap between, and counts.
func recording() *bundle.Bundle {
	b := &bundle.Bundle{Header: bundle.Header{Interval: time.Second, Version: "2c"}, End: 4 * time.Second}
	for i, at := range []time.Duration{0, time.Second, 3 * time.Second} {
		list := []bundle.Object{
			object("1.3.6.1.2.1.1.1.0", ber.Value{Tag: ber.OctetString, Bytes: []byte("card")}),
			object("1.3.6.1.2.1.1.2.0", ber.Value{Tag: ber.ObjectID, OID: ber.OID{1, 3, 6, 1, 4, 1, 32473}}),
			object("1.3.6.1.2.1.1.3.0", ber.Value{Tag: ber.TimeTicks, Int: int64(100 * i)}),
			object("1.3.6.1.2.1.2.2.1.6.1", ber.Value{Tag: ber.OctetString, Bytes: []byte{2, 0, 0, 0, 0, 1}}),
			object("1.3.6.1.2.1.2.2.1.10.1", ber.Value{Tag: ber.Counter32, Int: 1<<32 - 1}),
			object("1.3.6.1.2.1.33.1.2.4.0", ber.Value{Tag: ber.Integer, Int: int64(99 - i)}),
			object("1.3.6.1.2.1.33.1.3.3.1.3.1", ber.Value{Tag: ber.Integer, Int: 230}),
			object("1.3.6.1.2.1.33.1.3.3.1.3.2", ber.Value{Tag: ber.Integer, Int: 231}),
		}
		if i == 1 { // an alarm that comes and goes
			list = append(list, object("1.3.6.1.2.1.33.1.6.2.1.2.7", ber.Value{Tag: ber.ObjectID, OID: ber.OID{1, 3, 6, 1, 2, 1, 33, 1, 6, 3, 2}}))
		}
		b.Readings = append(b.Readings, bundle.Reading{At: at, Objects: bundle.Sort(list)})
	}
	b.Gaps = []bundle.Gap{{At: 2 * time.Second, Why: "no answer"}}
	b.Notices = []bundle.Notice{{At: 0, Version: "2c", Trap: ber.MustOID("1.3.6.1.2.1.33.2.0.1"), Uptime: 7,
		Objects: []bundle.Object{object("1.3.6.1.2.1.33.1.2.3.0", ber.Value{Tag: ber.Integer, Int: 12})}}}
	return b
}

var login = Login{Community: snap.NewSecret("watchword"), User: snap.User{
	Name: "watcher", Auth: snap.AuthSHA256, Priv: snap.PrivAES128, Level: snap.AuthPriv,
	AuthPassword: snap.NewSecret("first pass phrase"), PrivPassword: snap.NewSecret("second pass phrase"),
}}

// serveAt is the stage at an address, standing at a time that the test sets.
func serveAt(t *testing.T, b *bundle.Bundle, now func() vtime.Tick) string {
	t.Helper()
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s := newStage(b, &login, "played", false, now)
	done := make(chan struct{})
	go func() { defer close(done); answer(conn, snmp.New(s, snmp.Config{Objects: s.objects})) }()
	t.Cleanup(func() { conn.Close(); <-done })
	return conn.LocalAddr().String()
}

// recorded is the first reading of an agent, by the recorder.
func recorded(t *testing.T, at, version string, within time.Duration) (*bundle.Bundle, error) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var out bytes.Buffer
	c := record.Config{Agent: at, Interval: time.Hour, Timeout: within, Rate: 1e5, Log: func(string) {},
		Login: record.Login{Version: version, Community: login.Community, User: login.User}}
	if _, err := record.Record(ctx, c, writer(func(p []byte) {
		out.Write(p)
		if strings.Contains(out.String(), `"reading"`) {
			stop()
		}
	})); err != nil {
		return nil, err
	}
	return bundle.Read(&out)
}

type writer func([]byte)

func (w writer) Write(p []byte) (int, error) { w(p); return len(p), nil }

// TestSameReadings: what is recorded of a recording that is played is the recording,
// in every version, at each of its times; and in a gap there is nothing.
func TestSameReadings(t *testing.T) {
	want := recording()
	for _, version := range []string{"1", "2c", "3"} {
		for i := range want.Readings {
			at := serveAt(t, want, func() vtime.Tick { return tick(want.Readings[i].At) + 999 })
			got, err := recorded(t, at, version, 20*time.Second)
			if err != nil {
				t.Fatal(err)
			}
			a, b := got.Readings[0].Objects, want.Readings[i].Objects
			if len(a) != len(b) {
				t.Fatalf("version %s, reading %d: %d objects, want %d", version, i, len(a), len(b))
			}
			for k := range a {
				if !a[k].Name.Equal(b[k].Name) || !bundle.Same(a[k].Value, b[k].Value) {
					t.Errorf("version %s, reading %d: %v, want %v", version, i, a[k], b[k])
				}
			}
		}
	}
	silent := serveAt(t, want, func() vtime.Tick { return 2500 })
	if _, err := recorded(t, silent, "2c", 200*time.Millisecond); !record.IsNoAnswer(err) {
		t.Errorf("in a gap: %v", err)
	}
}

// TestLoop: time goes round.
func TestLoop(t *testing.T) {
	now := vtime.Tick(0)
	s := newStage(recording(), &login, "played", true, func() vtime.Tick { return now })
	for at, want := range map[vtime.Tick]int{0: 0, 999: 0, 1000: 1, 2000: 2, 4999: 3, 5000: 0, 6000: 1} {
		now = at
		if got := s.at(); got != want {
			t.Errorf("at %d: scene %d, want %d", at, got, want)
		}
	}
}

// TestPlay: it is played to its end, with its notifications.
func TestPlay(t *testing.T) {
	receiver, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer receiver.Close()
	whole, err := Play(t.Context(), Config{Bundle: recording(), Login: login, SNMP: "127.0.0.1:0", Speed: 3600, Receiver: receiver.LocalAddr().String()})
	if err != nil || !whole {
		t.Fatal(whole, err)
	}
	buffer := make([]byte, 1500)
	receiver.SetReadDeadline(time.Now().Add(20 * time.Second))
	n, _, err := receiver.ReadFrom(buffer)
	var m ber.Message
	if err != nil || m.Decode(buffer[:n]) != nil || m.PDU.Type != ber.TrapV2 || len(m.PDU.VarBinds) != 3 ||
		m.PDU.VarBinds[1].Value.OID.String() != "1.3.6.1.2.1.33.2.0.1" || m.PDU.VarBinds[2].Value.Int != 12 || string(m.Community) != "watchword" {
		t.Errorf("%v: %+v", err, m)
	}
	if _, err := Play(t.Context(), Config{Bundle: recording(), SNMP: receiver.LocalAddr().String(), Speed: 1}); err == nil {
		t.Error("an address that is taken is bound")
	}
	ctx, stop := context.WithCancel(t.Context())
	whole, err = Play(ctx, Config{Bundle: recording(), SNMP: "127.0.0.1:0", Speed: 1, Loop: true, Ready: writer(func([]byte) { stop() })})
	if whole || err != nil {
		t.Errorf("interrupted: %v, %v", whole, err)
	}
}
