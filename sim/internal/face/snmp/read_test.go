package snmp

import (
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// Names that the tests ask for.
const (
	sysDescr    = "1.3.6.1.2.1.1.1.0"
	sysUpTime   = "1.3.6.1.2.1.1.3.0"
	sysContact  = "1.3.6.1.2.1.1.4.0"
	batteryVolt = "1.3.6.1.2.1.33.1.2.5.0"
	alarmDescr  = "1.3.6.1.2.1.33.1.6.2.1.2"
	lastOne     = "1.3.6.1.6.3.15.1.1.6.0"
)

// row is a variable binding as text: name, tag and value.
func row(vb ber.VarBind) string {
	switch v := vb.Value; v.Tag {
	case ber.ObjectID:
		return fmt.Sprintf("%v %#x %v", vb.Name, byte(v.Tag), v.OID)
	case ber.OctetString:
		return fmt.Sprintf("%v %#x %s", vb.Name, byte(v.Tag), v.Bytes)
	case ber.NoSuchObject, ber.NoSuchInstance, ber.EndOfMibView, ber.Null:
		return fmt.Sprintf("%v %#x", vb.Name, byte(v.Tag))
	default:
		return fmt.Sprintf("%v %#x %d", vb.Name, byte(v.Tag), v.Int)
	}
}

func rows(m *ber.Message) []string {
	var list []string
	for _, vb := range m.PDU.VarBinds {
		list = append(list, row(vb))
	}
	return list
}

func TestReads(t *testing.T) {
	const v1, v2c = ber.V1, ber.V2c
	tests := []struct {
		name          string
		req           req
		want          []string
		status, index int32
	}{
		{name: "get", req: req{version: v1, kind: ber.GetRequest, names: []string{batteryVolt, sysUpTime}},
			want: []string{batteryVolt + " 0x2 732", sysUpTime + " 0x43 9050"}},
		{name: "get nothing", req: req{version: v2c, kind: ber.GetRequest}},
		{name: "get row", req: req{version: v2c, kind: ber.GetRequest, names: []string{alarmDescr + ".300"}},
			want: []string{alarmDescr + ".300 0x6 1.3.6.1.2.1.33.1.6.3.2"}},
		{name: "get exceptions", req: req{version: v2c, kind: ber.GetRequest, names: []string{
			"1.3.6.1.2.1.1.1", "1.3.6.1.2.1.1.1.1", "1.3.6.1.2.1.1.1.0.0", alarmDescr + ".3", "1.3.6.1.2.1.33.1.5.3.1.2.1",
			"1.3.6.1.2.1.33.1.6.2.1.1.2", "1.3.6.1.2.1.99", "2.999.1", "0.0", sysUpTime}},
			want: []string{
				"1.3.6.1.2.1.1.1 0x81", "1.3.6.1.2.1.1.1.1 0x81", "1.3.6.1.2.1.1.1.0.0 0x81", alarmDescr + ".3 0x81", "1.3.6.1.2.1.33.1.5.3.1.2.1 0x81",
				"1.3.6.1.2.1.33.1.6.2.1.1.2 0x80", "1.3.6.1.2.1.99 0x80", "2.999.1 0x80", "0.0 0x80", sysUpTime + " 0x43 9050"}},
		{name: "v1 get fails as a whole", req: req{version: v1, kind: ber.GetRequest, names: []string{sysUpTime, "1.3.6.1.2.1.99", "1.3.6.1.2.1.98"}},
			want: []string{sysUpTime + " 0x5", "1.3.6.1.2.1.99 0x5", "1.3.6.1.2.1.98 0x5"}, status: 2, index: 2},
		{name: "next", req: req{version: v2c, kind: ber.GetNextRequest, names: []string{
			"0.0", "1.3.6.1.2.1.1.2.1", "1.3.6.1.2.1.1.3", alarmDescr, alarmDescr + ".2", alarmDescr + ".2.7", alarmDescr + ".299", alarmDescr + ".300"}},
			want: []string{
				sysDescr + " 0x4 ridethrough SIMULATION of a UPS network card, model Demo card, firmware 1.0, serial S-1",
				sysUpTime + " 0x43 9050", sysUpTime + " 0x43 9050",
				alarmDescr + ".2 0x6 1.3.6.1.2.1.33.1.6.3.6", alarmDescr + ".300 0x6 1.3.6.1.2.1.33.1.6.3.2",
				alarmDescr + ".300 0x6 1.3.6.1.2.1.33.1.6.3.2", alarmDescr + ".300 0x6 1.3.6.1.2.1.33.1.6.3.2",
				"1.3.6.1.2.1.33.1.6.2.1.3.2 0x43 3000"}},
		{name: "next skips an empty table", req: req{version: v2c, kind: ber.GetNextRequest, names: []string{"1.3.6.1.2.1.33.1.5.2.0"}},
			want: []string{"1.3.6.1.2.1.33.1.6.1.0 0x42 2"}},
		{name: "next at the end", req: req{version: v2c, kind: ber.GetNextRequest, names: []string{lastOne, "2.999"}},
			want: []string{lastOne + " 0x82", "2.999 0x82"}},
		{name: "v1 next at the end", req: req{version: v1, kind: ber.GetNextRequest, names: []string{sysDescr, lastOne}},
			want: []string{sysDescr + " 0x5", lastOne + " 0x5"}, status: 2, index: 2},
		{name: "bulk", req: req{version: v2c, kind: ber.GetBulkRequest, a: 1, b: 2, names: []string{"1.3.6.1.2.1.1.3", alarmDescr, "1.3.6.1.6.3.15.1.1.6"}},
			want: []string{
				sysUpTime + " 0x43 9050",
				alarmDescr + ".2 0x6 1.3.6.1.2.1.33.1.6.3.6", lastOne + " 0x41 0",
				alarmDescr + ".300 0x6 1.3.6.1.2.1.33.1.6.3.2", lastOne + " 0x82"}},
		{name: "bulk stops after a round at the end", req: req{version: v2c, kind: ber.GetBulkRequest, b: 1000, names: []string{"1.3.6.1.6.3.15.1.1.6", "2.999"}},
			want: []string{lastOne + " 0x41 0", "2.999 0x82", lastOne + " 0x82", "2.999 0x82"}},
		{name: "bulk of negative numbers", req: req{version: v2c, kind: ber.GetBulkRequest, a: -1, b: -1, names: []string{sysDescr}}},
		{name: "bulk with 256 non-repeaters", req: req{version: v2c, kind: ber.GetBulkRequest, a: 256, b: 9, names: []string{"1.3.6.1.2.1.1.3"}},
			want: []string{sysUpTime + " 0x43 9050"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tt.req.community, tt.req.id = "watch", -5
			m := ask(t, New(demo(), Config{}), tt.req)
			if m == nil {
				t.Fatal("silence")
			}
			if diff := cmp.Diff(tt.want, rows(m)); diff != "" {
				t.Error(diff)
			}
			if m.PDU.Status != tt.status || m.PDU.Index != tt.index {
				t.Errorf("status %d at %d, want %d at %d", m.PDU.Status, m.PDU.Index, tt.status, tt.index)
			}
		})
	}
}

// TestBytes holds single replies to the octet; they were worked out by hand
// after X.690 and RFC 3416.
func TestBytes(t *testing.T) {
	tests := []struct{ name, request, reply string }{
		{"negative request-id", "3025 020101 0405 7761746368 a019 0201fb 020100 020100 300e 300c 06082b06010201010700 0500",
			"3026 020101 0405 7761746368 a21a 0201fb 020100 020100 300f 300d 06082b06010201010700 020148"},
		{"least request-id in long form", "308200 28 020101 0405 7761746368 a01c 020480000000 020100 020100 300e 300c 06082b06010201010700 0500",
			"3029 020101 0405 7761746368 a21d 020480000000 020100 020100 300f 300d 06082b06010201010700 020148"},
		{"greatest arc", "302a 020101 0405 7761746368 a01e 020101 020100 020100 3013 3011 060d2b060102010107008fffffff7f 0500",
			"302a 020101 0405 7761746368 a21e 020101 020100 020100 3013 3011 060d2b060102010107008fffffff7f 8100"},
		{"v1 error repeats what it was given", "3026 020100 0405 7761746368 a01a 020102 020100 020100 300f 300d 06082b06010201010709 02017f",
			"3026 020100 0405 7761746368 a21a 020102 020102 020101 300f 300d 06082b06010201010709 02017f"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			request, err := hex.DecodeString(strings.ReplaceAll(tt.request, " ", ""))
			if err != nil {
				t.Fatal(err)
			}
			got := New(demo(), Config{}).Handle(request, "", nil)
			if want := strings.ReplaceAll(tt.reply, " ", ""); hex.EncodeToString(got) != want {
				t.Errorf("\n got %x\nwant %s", got, want)
			}
		})
	}
}

// TestManyVariables needs an error-index that does not fit one octet.
func TestManyVariables(t *testing.T) {
	names := slices.Repeat([]string{sysUpTime}, 299)
	r := req{version: ber.V1, community: "watch", kind: ber.GetRequest, names: append(names, "1.3.6.1.2.1.99")}
	m := ask(t, New(demo(), Config{MaxSize: 16384}), r)
	if m.PDU.Status != int32(NoSuchName) || m.PDU.Index != 300 || len(m.PDU.VarBinds) != 300 {
		t.Errorf("status %d at %d with %d variables", m.PDU.Status, m.PDU.Index, len(m.PDU.VarBinds))
	}
	r.names = names
	if m = ask(t, New(demo(), Config{MaxSize: 16384}), r); len(m.PDU.VarBinds) != 299 || row(m.PDU.VarBinds[298]) != sysUpTime+" 0x43 9050" {
		t.Errorf("%d variables", len(m.PDU.VarBinds))
	}
}

func TestTooBig(t *testing.T) {
	const n = 60 // 60 names fit a request of 1472 octets, 60 descriptions do not fit a reply
	names := slices.Repeat([]string{sysDescr}, n)
	for _, tt := range []struct {
		name    string
		version int32
		names   []string
		left    int
	}{
		{"v1 repeats the request", ber.V1, names, n},
		{"v2c is empty", ber.V2c, names, 0},
		{"v1 is empty if the request does not fit", ber.V1, slices.Repeat(names, 2), 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := New(demo(), Config{})
			m := ask(t, a, req{version: tt.version, community: "watch", kind: ber.GetRequest, names: tt.names})
			if m.PDU.Status != int32(TooBig) || m.PDU.Index != 0 || len(m.PDU.VarBinds) != tt.left {
				t.Errorf("status %d at %d with %d variables", m.PDU.Status, m.PDU.Index, len(m.PDU.VarBinds))
			}
		})
	}
}

// TestBulkFillsTheReply holds that a get-bulk reply is as long as it may be: one
// more variable would not fit.
func TestBulkFillsTheReply(t *testing.T) {
	for size := 484; size < 700; size++ {
		a := New(demo(), Config{MaxSize: size})
		r := req{version: ber.V2c, community: "watch", kind: ber.GetBulkRequest, b: 500, names: []string{"1.3.6.1.2.1.11"}}
		reply := a.Handle(r.encode(), "", nil)
		var m ber.Message
		if err := m.Decode(reply); err != nil {
			t.Fatal(err)
		}
		last := m.PDU.VarBinds[len(m.PDU.VarBinds)-1].Name.String()
		next := ask(t, New(demo(), Config{}), req{version: ber.V2c, community: "watch", kind: ber.GetNextRequest, names: []string{last}})
		if one := len(next.PDU.Raw); len(reply) > size || len(reply)+one <= size {
			t.Errorf("limit %d: reply of %d, next variable of %d", size, len(reply), one)
		}
	}
}

// TestSilentDrop asks with a community so long that no reply fits.
func TestSilentDrop(t *testing.T) {
	f := demo()
	long := strings.Repeat("c", 600)
	f.change(func(d *snap.Device) { d.Card.Settings.ReadCommunity = snap.NewSecret(long) })
	a := New(f, Config{MaxSize: 484})
	for _, kind := range []ber.Tag{ber.GetRequest, ber.GetBulkRequest} {
		if m := ask(t, a, req{version: ber.V2c, community: long, kind: kind, b: 1, names: []string{sysDescr}}); m != nil {
			t.Errorf("got %+v", m)
		}
	}
	big := ask(t, New(f, Config{MaxSize: 2000}), req{version: ber.V2c, community: long, kind: ber.GetRequest, names: []string{"1.3.6.1.2.1.11.31.0"}})
	if len(big.PDU.VarBinds) != 1 {
		t.Errorf("got %+v", big)
	}
	if got := a.counters.Load(31); got != 2 {
		t.Errorf("counted %d silent drops, want 2", got)
	}
}

// TestWrappedAlarmIDs walks rows whose numbers are as far apart as they can be.
func TestWrappedAlarmIDs(t *testing.T) {
	f := demo()
	f.change(func(d *snap.Device) {
		d.Alarms.Rows[0].ID, d.Alarms.Rows[1].ID = 1, 2147483647 // after a wrap
	})
	m := ask(t, New(f, Config{}), req{version: ber.V2c, community: "watch", kind: ber.GetBulkRequest, b: 3, names: []string{alarmDescr}})
	want := []string{alarmDescr + ".1", alarmDescr + ".2147483647", "1.3.6.1.2.1.33.1.6.2.1.3.1"}
	for i, vb := range m.PDU.VarBinds {
		if vb.Name.String() != want[i] {
			t.Errorf("%d: %v, want %s", i, vb.Name, want[i])
		}
	}
}
