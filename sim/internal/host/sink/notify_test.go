package sink

import (
	"bufio"
	"bytes"
	"io"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

func newReader(text []byte) *bufio.Reader { return bufio.NewReaderSize(bytes.NewReader(text), 64) }

// manager is an independent sender of notifications.
func (b *bed) manager(version gosnmp.SnmpVersion) *gosnmp.GoSNMP {
	host, port := "127.0.0.1", b.set.sinks[0].udp.LocalAddr().String()[len("127.0.0.1:"):]
	n := uint16(0)
	for _, d := range port {
		n = 10*n + uint16(d-'0')
	}
	return &gosnmp.GoSNMP{Target: host, Port: n, Version: version, Community: "tell", Timeout: 20 * time.Second, Retries: 0, MaxOids: 60}
}

func onBattery(inform bool) gosnmp.SnmpTrap {
	return gosnmp.SnmpTrap{IsInform: inform, Variables: []gosnmp.SnmpPDU{
		{Name: ".1.3.6.1.6.3.1.1.4.1.0", Type: gosnmp.ObjectIdentifier, Value: ".1.3.6.1.2.1.33.2.1"},
	}}
}

// TestNotifications takes traps and informs of an independent library in every version,
// and acknowledges informs or not.
func TestNotifications(t *testing.T) {
	user := snap.User{
		Name: "ops", Auth: snap.AuthSHA256, AuthPassword: snap.NewSecret("auth phrase"), Priv: snap.PrivAES128, PrivPassword: snap.NewSecret("priv phrase"), Level: snap.AuthPriv,
	}
	b := newBed(t, plan.Server{Kind: plan.ServerSNMP, Port: 162, Community: "tell", Users: []snap.User{user}})
	m := b.manager(gosnmp.Version2c)
	if err := m.Connect(); err != nil {
		t.Fatal(err)
	}
	defer m.Conn.Close()
	if _, err := m.SendTrap(onBattery(false)); err != nil {
		t.Fatal(err)
	}
	if got := b.next(); !got.OK || got.Arrival.Subject != "on_battery" || got.Arrival.Version != "v2c" || got.Arrival.Inform {
		t.Errorf("%+v", got.Arrival)
	}
	for acks, acknowledged := range map[string]bool{"yes": true, "never": false, "wrong": false} {
		b.is(func(k *snap.Sink) { k.Acks = acks })
		if m.Timeout = 20 * time.Second; !acknowledged {
			m.Timeout = 300 * time.Millisecond
		}
		_, err := m.SendTrap(onBattery(true))
		if got := b.next(); (err == nil) != acknowledged || !got.Arrival.Inform || got.Arrival.Key == "" {
			t.Errorf("%s: %v, %+v", acks, err, got.Arrival)
		}
	}
	b.is(func(k *snap.Sink) { k.Acks = "yes" })
	m.Community, m.Timeout = "other", 300*time.Millisecond
	if _, err := m.SendTrap(onBattery(true)); err == nil {
		t.Error("another community was acknowledged")
	}
	if got := b.next(); got.OK || got.Text == "" {
		t.Errorf("%+v", got)
	}
}

// TestNotifications3: an independent sender discovers the sink's engine.
func TestNotifications3(t *testing.T) {
	user := snap.User{
		Name: "ops", Auth: snap.AuthSHA256, AuthPassword: snap.NewSecret("auth phrase"), Priv: snap.PrivAES128, PrivPassword: snap.NewSecret("priv phrase"), Level: snap.AuthPriv,
	}
	b := newBed(t, plan.Server{Kind: plan.ServerSNMP, Port: 162, Users: []snap.User{user}})
	m := b.manager(gosnmp.Version3)
	m.SecurityModel, m.MsgFlags = gosnmp.UserSecurityModel, gosnmp.AuthPriv
	m.SecurityParameters = &gosnmp.UsmSecurityParameters{
		UserName: "ops", AuthenticationProtocol: gosnmp.SHA256, AuthenticationPassphrase: "auth phrase",
		PrivacyProtocol: gosnmp.AES, PrivacyPassphrase: "priv phrase",
	}
	if err := m.Connect(); err != nil {
		t.Fatal(err)
	}
	defer m.Conn.Close()
	if _, err := m.SendTrap(onBattery(true)); err != nil {
		t.Fatal(err)
	}
	if got := b.next(); !got.OK || got.Arrival.From != "ops" || got.Arrival.Version != "v3" || got.Arrival.Subject != "on_battery" {
		t.Errorf("%+v, %+v", got, got.Arrival)
	}
}

// TestRubbish is counted, and hurts nobody.
func TestRubbish(t *testing.T) {
	b := newBed(t, plan.Server{Kind: plan.ServerSNMP, Port: 162})
	io.WriteString(b.dial("udp"), "rubbish")
	if got := b.next(); got.OK || got.Text == "" {
		t.Errorf("%+v", got)
	}
}
