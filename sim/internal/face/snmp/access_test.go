package snmp

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// view is a view of subtrees; a leading minus leaves one out.
func view(subtrees ...string) *snap.View {
	v := &snap.View{Name: "test"}
	for _, s := range subtrees {
		oid, excluded := strings.CutPrefix(s, "-")
		v.Subtrees = append(v.Subtrees, snap.Subtree{OID: ber.MustOID(oid), Included: !excluded})
	}
	return v
}

func TestHolds(t *testing.T) {
	v := view("1.3.6.1.2.1", "-1.3.6.1.2.1.33", "1.3.6.1.2.1.33.1.6.2.1.2.300", "-1.3.6.1.2.1.1.4")
	for name, want := range map[string]bool{
		"1.3.6.1.2.1.1.1.0": true, "1.3.6.1.2.1": true, "1.3.6.1.2": false, "1.3.6.1.6.3": false,
		"1.3.6.1.2.1.33.1.1.1.0": false, "1.3.6.1.2.1.33.1.6.2.1.2.300": true, "1.3.6.1.2.1.33.1.6.2.1.2.2": false,
		"1.3.6.1.2.1.1.4.0": false, "1.3.6.1.2.1.1.40.0": true,
	} {
		oid := ber.MustOID(name)
		last := len(oid) - 1
		if a, b := v.Holds(oid), v.Holds(oid[:last], oid[last]); a != want || b != want {
			t.Errorf("%s: %v, %v, want %v", name, a, b, want)
		}
	}
	if (*snap.View)(nil).Holds(ber.MustOID("1.3")) {
		t.Error("no view holds something")
	}
}

// restricted is demo where readers see the system group and one row of the
// alarms, and writers may write the contact alone.
func restricted() (*fake, snap.User) {
	u := combo(snap.AuthSHA1, snap.PrivAES128)
	u.Views = snap.Views{
		Read:  view("1.3.6.1.2.1.1", "-1.3.6.1.2.1.1.4", "1.3.6.1.2.1.33.1.6.2.1.2.300"),
		Write: view("1.3.6.1.2.1.1.4"),
	}
	f := secured(u)
	f.change(func(d *snap.Device) {
		access := *d.Card.Access
		access.Reader = snap.Views{Read: u.Views.Read}
		access.Writer = snap.Views{Read: u.Views.Read, Write: u.Views.Write}
		d.Card.Access = &access
	})
	return f, u
}

func TestViews(t *testing.T) {
	tests := []struct {
		name string
		req  req
		want []string // without the version's own answer to what is not there
		code Status
	}{
		{"get", req{kind: ber.GetRequest, names: []string{sysUpTime, batteryVolt, sysContact, alarmDescr + ".300", alarmDescr + ".2"}},
			[]string{sysUpTime + " 0x43 9050", batteryVolt + " 0x80", sysContact + " 0x80", alarmDescr + ".300 0x6 1.3.6.1.2.1.33.1.6.3.2", alarmDescr + ".2 0x80"}, NoError},
		{"next", req{kind: ber.GetNextRequest, names: []string{"1.3.6.1.2.1.1.3.0", "1.3.6.1.2.1.1.9.1.4.99", alarmDescr + ".300"}},
			[]string{"1.3.6.1.2.1.1.5.0 0x4 ups-1", alarmDescr + ".300 0x6 1.3.6.1.2.1.33.1.6.3.2", alarmDescr + ".300 0x82"}, NoError},
		{"bulk", req{kind: ber.GetBulkRequest, b: 3, names: []string{"1.3.6.1.2.1.1.7"}},
			[]string{"1.3.6.1.2.1.1.7.0 0x2 72", "1.3.6.1.2.1.1.8.0 0x43 0", "1.3.6.1.2.1.1.9.1.2.1 0x6 1.3.6.1.6.3.1.2.1.3"}, NoError},
		{"write", req{kind: ber.SetRequest, names: []string{sysContact}, values: []ber.Value{str("x")}}, []string{sysContact + " 0x4 x"}, NoError},
		{"write outside", req{kind: ber.SetRequest, names: []string{"1.3.6.1.2.1.1.5.0"}, values: []ber.Value{str("x")}},
			[]string{"1.3.6.1.2.1.1.5.0 0x4 x"}, NoAccess},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f, u := restricted()
			a := New(f, Config{})
			tt.req.version, tt.req.community = ber.V2c, "watch"
			if tt.req.kind == ber.SetRequest {
				tt.req.community = "steer"
			}
			m := ask(t, a, tt.req)
			if diff := cmp.Diff(tt.want, rows(m)); diff != "" || Status(m.PDU.Status) != tt.code {
				t.Errorf("v2c: status %d, %s", m.PDU.Status, diff)
			}
			answer := right(u).ask(t, a, tt.req)
			if diff := cmp.Diff(tt.want, rows(&ber.Message{PDU: answer.pdu})); diff != "" || Status(answer.pdu.Status) != tt.code {
				t.Errorf("v3: status %d, %s", answer.pdu.Status, diff)
			}
		})
	}
}

// TestNoView: who has no view at all is refused as a whole, which SNMPv1 calls
// noSuchName.
func TestNoView(t *testing.T) {
	f, u := restricted()
	f.change(func(d *snap.Device) {
		access := *d.Card.Access
		access.Reader.Read = nil
		access.Users = slices.Clone(access.Users)
		access.Users[0].Views = snap.Views{}
		d.Card.Access = &access
	})
	a := New(f, Config{})
	for _, kind := range []ber.Tag{ber.GetRequest, ber.GetNextRequest, ber.GetBulkRequest, ber.SetRequest} {
		r := req{kind: kind, names: []string{sysContact}, values: []ber.Value{str("x")}}
		if answer := right(u).ask(t, a, r); Status(answer.pdu.Status) != AuthorizationError || answer.pdu.Index != 0 || answer.level != snap.AuthPriv {
			t.Errorf("%#x: %+v", byte(kind), answer.pdu)
		}
	}
	r := plain
	if m := ask(t, a, r); Status(m.PDU.Status) != AuthorizationError {
		t.Errorf("v2c: %+v", m.PDU)
	}
	r.version = ber.V1
	if m := ask(t, a, r); Status(m.PDU.Status) != NoSuchName {
		t.Errorf("v1: %+v", m.PDU)
	}
	if c := f.submitted(); len(c) > 0 {
		t.Errorf("the engine got %+v", c)
	}
}

// TestSizes asks for replies of bounded size: what is too much is cut in a
// get-bulk and refused otherwise, and no reply is ever larger.
func TestSizes(t *testing.T) {
	names := slices.Repeat([]string{sysDescr}, 20)
	for _, u := range []snap.User{combo(snap.AuthNone, snap.PrivNone), combo(snap.AuthSHA512, snap.PrivNone), combo(snap.AuthMD5, snap.PrivDES), combo(snap.AuthSHA512, snap.PrivAES256Reeder)} {
		a := New(secured(u), Config{})
		last := 0
		for size := 484; size <= 1600; size++ {
			m := right(u)
			m.maxSize = size
			answer := m.ask(t, a, req{kind: ber.GetBulkRequest, b: 100, names: []string{"1.3.6.1.2.1.33"}})
			if answer.size > min(size, DefaultMaxSize) || answer.pdu.Status != 0 {
				t.Fatalf("%s: %d octets of %d, status %d", u.Name, answer.size, size, answer.pdu.Status)
			}
			if n := len(answer.pdu.VarBinds); n < last {
				t.Errorf("%s: %d variables in %d octets, %d in fewer", u.Name, n, size, last)
			} else {
				last = n
			}
			answer = m.ask(t, a, req{kind: ber.GetRequest, names: names})
			if answer.size > min(size, DefaultMaxSize) || Status(answer.pdu.Status) != TooBig || len(answer.pdu.VarBinds) != 0 {
				t.Fatalf("%s: %d octets of %d, status %d", u.Name, answer.size, size, answer.pdu.Status)
			}
		}
		if last < 30 {
			t.Errorf("%s: %d variables at most", u.Name, last)
		}
	}
}

// TestSecretsDoNotShow: whatever prints a user, its passwords stay out.
func TestSecretsDoNotShow(t *testing.T) {
	f := secured(combos()...)
	d := f.Device()
	for _, format := range []string{"%v", "%+v", "%#v", "%s", "%q", "%x", "%d"} {
		for _, x := range []any{d.Card.Access.Users, &d.Card.Access.Users[9], d.Card.Access.Users[9].AuthPassword, *d.Card.Access, d} {
			text := fmt.Sprintf(format, x)
			for _, word := range []string{authWord, privWord, fmt.Sprintf("%x", authWord)} {
				if strings.Contains(text, word) {
					t.Errorf("%s of %T shows %q", format, x, word)
				}
			}
		}
	}
}
