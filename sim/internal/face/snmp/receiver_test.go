package snmp

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/model"
)

func lowBattery() snap.Notification {
	return snap.Notification{Kind: snap.NotifyAlarmAdded, AlarmID: 300, Alarm: snap.AlarmLowBattery}
}

// TestHearCommunities: every notification of the card comes out as what it is, in both
// versions with communities.
func TestHearCommunities(t *testing.T) {
	a := New(tested(), Config{})
	r := NewReceiver("sink", "tell", nil)
	for _, n := range model.Notifications() {
		for _, v := range []Version{V1, V2c} {
			out, err := a.Notification(nil, Envelope{Version: v, Community: "tell"}, snap.Notification{Kind: n.Kind, Row: 1, Alarm: snap.AlarmFanFailure, AlarmID: 1})
			if err != nil {
				continue // the card has none of what it is about
			}
			h, err := r.Hear(out, 0)
			if err != nil || h.Why != "" || h.Arrival.Subject != n.Kind.String() || h.Arrival.OID != n.Kind.OID() || h.Answer(0, 0) != nil {
				t.Errorf("%v in version %d: %v, %+v, %+v", n.Kind, v, err, h, h.Arrival)
			}
		}
	}
	out, _ := a.Notification(nil, Envelope{Version: V2c, Community: "tell"}, lowBattery())
	if h, err := r.Hear(out, 0); err != nil || !strings.HasPrefix(h.Arrival.Text, "low_battery ") || !strings.Contains(h.Arrival.Text, "1.3.6.1.2.1.33.1.6.2.1.2.300 = 1.3.6.1.2.1.33.1.6.3.3\n") {
		t.Errorf("%v, %q", err, h.Arrival.Text)
	}
	out, _ = a.Notification(nil, Envelope{Version: V2c, Community: "others"}, lowBattery())
	if h, err := r.Hear(out, 0); err != nil || h.Why == "" {
		t.Errorf("another community: %v, %+v", err, h)
	}
}

// TestHearInform: the acknowledgement satisfies the card's sender, one with another
// number does not, and an error is told.
func TestHearInform(t *testing.T) {
	a := New(tested(), Config{})
	r := NewReceiver("sink", "", nil)
	i, err := a.Inform(Envelope{Version: V2c, Community: "tell", RequestID: -7}, lowBattery())
	if err != nil {
		t.Fatal(err)
	}
	p := a.NewPeer()
	h, err := r.Hear(bytes.Clone(p.Message(i)), 0)
	if err != nil || !h.Arrival.Inform || h.Arrival.Key != "-7" {
		t.Fatalf("%v, %+v", err, h.Arrival)
	}
	for _, tt := range []struct {
		status int64
		off    int32
		want   Answer
	}{{0, 1, NoAnswer}, {5, 0, Refused}, {0, 0, Acknowledged}} {
		if got, why := p.Hear(h.Answer(tt.status, tt.off), i); got != tt.want {
			t.Errorf("status %d, off by %d: %v %s", tt.status, tt.off, got, why)
		}
	}
}

// TestHear3: traps and informs of every combination of protocols; the sender discovers
// the receiver's engine.
func TestHear3(t *testing.T) {
	users := correspondents()
	began := time.Now()
	f := tested()
	f.dev.Card.Access = secured(users...).dev.Card.Access
	a := New(f, Config{Clock: func() time.Duration { return time.Since(began) }})
	r := NewReceiver("sink", "", users)
	for i, u := range users {
		name := fmt.Sprint(u.Auth, " ", u.Priv)
		e := Envelope{Version: V3, User: u.Name, Level: u.Highest(), RequestID: int32(i)}
		trap, err := a.Notification(nil, e, lowBattery())
		if err != nil {
			t.Fatal(err)
		}
		if h, err := r.Hear(trap, 1000); err != nil || h.Why != "" || h.Arrival == nil || h.Arrival.From != u.Name || h.Arrival.Subject != "alarm_added" {
			t.Errorf("%s: trap: %v, %+v", name, err, h)
		}
		inform, err := a.Inform(e, lowBattery())
		if err != nil {
			t.Fatal(err)
		}
		if got := converse(t, a.NewPeer(), r, inform); got != Acknowledged {
			t.Errorf("%s: inform: %v", name, got)
		}
	}
}

// converse is what the sender comes to after at most four messages.
func converse(t *testing.T, p *Peer, r *Receiver, i *Inform) (answer Answer) {
	t.Helper()
	for range 4 {
		h, err := r.Hear(bytes.Clone(p.Message(i)), 1000)
		if err != nil {
			t.Fatal(err)
		}
		back := h.Reply
		if back == nil {
			back = h.Answer(0, 0)
		}
		if answer, _ = p.Hear(back, i); answer != SendAgain {
			return answer
		}
	}
	return answer
}

// TestHear3Refuses: a wrong password and an unknown user are turned away, and told.
func TestHear3Refuses(t *testing.T) {
	u := combo(snap.AuthSHA256, snap.PrivAES128)
	u.Name = "known"
	wrong, other, weak := u, u, u
	wrong.AuthPassword = snap.NewSecret("another phrase")
	other.Name = "other"
	weak.PrivPassword = snap.NewSecret("another phrase")
	f := tested()
	f.dev.Card.Access = secured(u).dev.Card.Access
	a := New(f, Config{})
	for why, users := range map[string][]snap.User{
		"another authentication password": {wrong}, "nobody knows the user": {other}, "it cannot be decrypted": {weak},
	} {
		trap, err := a.Notification(nil, Envelope{Version: V3, User: "known", Level: snap.AuthPriv}, lowBattery())
		if err != nil {
			t.Fatal(err)
		}
		h, err := NewReceiver("sink", "", users).Hear(trap, 0)
		if err != nil || h.Why != why || h.Reply != nil {
			t.Errorf("%s: %v, %+v", why, err, h)
		}
	}
	lax := u
	lax.Level, u.Level = snap.NoAuthNoPriv, snap.AuthPriv
	f.dev.Card.Access = secured(lax).dev.Card.Access
	trap, err := New(f, Config{}).Notification(nil, Envelope{Version: V3, User: "known", Level: snap.AuthNoPriv}, lowBattery())
	if err != nil {
		t.Fatal(err)
	}
	if h, err := NewReceiver("sink", "", []snap.User{u}).Hear(trap, 0); err != nil || h.Why == "" {
		t.Errorf("less than the user's level: %v, %+v", err, h)
	}
}

func FuzzReceiver(f *testing.F) {
	a := New(tested(), Config{})
	for _, v := range []Version{V1, V2c} {
		out, _ := a.Notification(nil, Envelope{Version: v, Community: "tell"}, lowBattery())
		f.Add(out)
	}
	u := combo(snap.AuthNone, snap.PrivNone)
	u.Name = "open"
	card := tested()
	card.dev.Card.Access = secured(u).dev.Card.Access
	trap, err := New(card, Config{}).Notification(nil, Envelope{Version: V3, User: "open"}, lowBattery())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(trap)
	r := NewReceiver("sink", "", []snap.User{u})
	f.Fuzz(func(t *testing.T, b []byte) {
		h, err := r.Hear(b, 5)
		if err == nil && h.Arrival != nil && len(h.Arrival.Text) > 2*snap.MaxArrivalText+400_000 {
			t.Errorf("%d bytes of text", len(h.Arrival.Text))
		}
		h.Answer(0, 0)
	})
}
