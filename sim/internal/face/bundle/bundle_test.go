package bundle

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	_ "ridethrough/sim/internal/drawn"
	"ridethrough/sim/internal/face/ber"
)

var start = time.Date(2026, 3, 2, 7, 55, 0, 0, time.UTC)

func object(name string, v ber.Value) Object { return Object{ber.MustOID(name), v} }

func text(s string) ber.Value { return ber.Value{Tag: ber.OctetString, Bytes: []byte(s)} }

func number(n int64) ber.Value { return ber.Value{Tag: ber.Integer, Int: n} }

func ticks(n int64) ber.Value { return ber.Value{Tag: ber.TimeTicks, Int: n} }

var values = rapid.Custom(func(t *rapid.T) ber.Value {
	v := ber.Value{Tag: rapid.SampledFrom([]ber.Tag{ber.Integer, ber.OctetString, ber.ObjectID, ber.IPAddress, ber.Counter32,
		ber.Gauge32, ber.TimeTicks, ber.Opaque, ber.Counter64, ber.Null}).Draw(t, "tag")}
	switch v.Tag {
	case ber.Integer:
		v.Int = int64(rapid.Int32().Draw(t, "n"))
	case ber.OctetString, ber.Opaque:
		v.Bytes = rapid.OneOf(rapid.SliceOf(rapid.Byte()), rapid.Map(rapid.String(), func(s string) []byte { return []byte(s) })).Draw(t, "octets")
	case ber.ObjectID:
		v.OID = append(ber.OID{1, 3}, rapid.SliceOfN(rapid.Uint32(), 0, 10).Draw(t, "arcs")...)
	case ber.IPAddress:
		v.Bytes = rapid.SliceOfN(rapid.Byte(), 4, 4).Draw(t, "address")
	case ber.Counter64:
		v.Int = int64(rapid.Uint64().Draw(t, "n"))
	case ber.Null:
	default:
		v.Int = int64(rapid.Uint32().Draw(t, "n"))
	}
	return v
})

var objects = rapid.Custom(func(t *rapid.T) []Object {
	var list []Object
	for range rapid.IntRange(0, 8).Draw(t, "objects") {
		name := ber.OID{1, 3, 6, rapid.Uint32Range(1, 12).Draw(t, "arc")}
		list = append(list, Object{name, values.Draw(t, "value")})
	}
	return list
})

// TestRoundTrip: what is written is read, and one changed octet is noticed.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := Bundle{Header: Header{Start: start, Interval: 10 * time.Second, Version: "2c", Program: "test"}}
		var file bytes.Buffer
		w, err := NewWriter(&file, want.Header, nil)
		if err != nil {
			t.Fatal(err)
		}
		at := time.Duration(0)
		for range rapid.IntRange(0, 6).Draw(t, "lines") {
			at += time.Duration(rapid.IntRange(0, 20000).Draw(t, "after")) * time.Millisecond
			switch rapid.IntRange(0, 2).Draw(t, "kind") {
			case 0:
				r := Reading{At: at, Took: 30 * time.Millisecond, Objects: Sort(objects.Draw(t, "objects"))}
				want.Readings = append(want.Readings, r)
				err = w.Reading(r)
			case 1:
				n := Notice{At: at, Version: "1", Peer: "p", Trap: ber.OID{1, 3, 6}, Uptime: 7, Objects: objects.Draw(t, "objects")}
				want.Notices = append(want.Notices, n)
				err = w.Notice(n)
			default:
				g := Gap{at, "no answer"}
				want.Gaps = append(want.Gaps, g)
				err = w.Gap(g)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		want.End = at
		if err := w.Close(at); err != nil {
			t.Fatal(err)
		}
		got, err := Read(bytes.NewReader(file.Bytes()))
		if err != nil {
			t.Fatalf("%v\n%s", err, &file)
		}
		same := cmp.Comparer(func(a, b ber.Value) bool { return Same(a, b) })
		if d := cmp.Diff(&want, got, same, cmp.Comparer(func(a, b []Object) bool { return cmp.Equal(pairs(a), pairs(b)) })); d != "" {
			t.Fatalf("-want +got:\n%s", d)
		}
		damaged := bytes.Clone(file.Bytes())
		i := rapid.IntRange(0, len(damaged)-2).Draw(t, "damaged") // the last one ends the line
		damaged[i] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		if b, err := Read(bytes.NewReader(damaged)); err == nil && !harmlessChange(damaged, file.Bytes(), i) && !b.Cut {
			t.Fatalf("octet %d of %q may change unnoticed", i, damaged)
		}
	})
}

// harmlessChange: within the last line, the letters of a key may change their case,
// which the reader of JSON does not mind.
func harmlessChange(damaged, whole []byte, i int) bool {
	last := bytes.LastIndexByte(bytes.TrimSuffix(whole, []byte("\n")), '\n')
	return i > last
}

func pairs(list []Object) (out [][2]string) {
	for _, o := range list {
		out = append(out, pair(o))
	}
	return out
}

// TestCutOff: a recorder that was killed leaves what it has written.
func TestCutOff(t *testing.T) {
	var file bytes.Buffer
	w, _ := NewWriter(&file, Header{Start: start, Interval: time.Second, Version: "1"}, nil)
	var ends []int
	for i := range 5 {
		if err := w.Reading(Reading{At: time.Duration(i) * time.Second, Objects: []Object{object("1.3.6.1", number(int64(i)))}}); err != nil {
			t.Fatal(err)
		}
		ends = append(ends, file.Len())
	}
	if err := w.Close(5 * time.Second); err != nil {
		t.Fatal(err)
	}
	whole := file.Bytes()
	for n := range whole {
		b, err := Read(bytes.NewReader(whole[:n]))
		want := 0
		for _, end := range ends {
			if n >= end {
				want++
			}
		}
		if header := bytes.IndexByte(whole, '\n'); n <= header {
			if err == nil {
				t.Fatalf("cut to %d octets: a bundle without a header", n)
			}
			continue
		}
		if err != nil || !b.Cut || len(b.Readings) != want {
			t.Fatalf("cut to %d octets: %+v, %v; want %d readings", n, b, err, want)
		}
	}
}

// TestRefuses: what is wrong is said with its line.
func TestRefuses(t *testing.T) {
	const head = `{"ridethrough_bundle":1,"start":"2026-03-02T07:55:00Z","interval_ms":1000,"snmp":"1","scrubbed":true}` + "\n"
	for _, c := range []struct{ file, want string }{
		{"", "line 1: is not there"},
		{"mode,end_v\n", "line 1: is no line of a bundle: no JSON at octet 1"},
		{"{}\n", "line 1: is not the first line of a bundle"},
		{`{"ridethrough_bundle":2}` + "\n", "line 1: has version 2; this program reads version 1"},
		{`{"ridethrough_bundle":1}` + "\n", `line 1: lacks "interval_ms"`},
		{strings.Replace(head, "2026-03-02T", "2026-03-02 ", 1), "is no date of RFC 3339"},
		{head + "{}\n", `line 2: lacks "at_ms"`},
		{head + `{"at_ms":5}` + "\n", `line 2: has no "reading"`},
		{head + `{"at_ms":-5,"gap":""}` + "\n", `line 2: "at_ms" -5`},
		{head + `{"at_ms":5,"gap":""}` + "\n" + `{"at_ms":4,"gap":""}` + "\n", "line 3: \"at_ms\" 4: goes back"},
		{head + `{"at_ms":5,"colour":""}` + "\n", "unknown field"},
		{head + `{"at_ms":5,"gap":""} {}` + "\n", "more than one"},
		{head + `{"at_ms":5,"reading":{"took_ms":1,"set":[["1.3","integer:x"]]}}` + "\n", `1.3: value "integer:x" is not of its type`},
		{head + `{"at_ms":5,"reading":{"took_ms":1,"set":[["1.3","integer:2147483648"]]}}` + "\n", "is not of its type"},
		{head + `{"at_ms":5,"reading":{"took_ms":1,"set":[["1.3","word:x"]]}}` + "\n", `there is no type "word"`},
		{head + `{"at_ms":5,"reading":{"took_ms":1,"set":[["x","integer:1"]]}}` + "\n", `"x" is no object identifier`},
		{head + `{"at_ms":5,"reading":{"took_ms":1,"gone":["1.3"]}}` + "\n", "which was not there"},
		{head + `{"at_ms":5,"end":{"readings":0},"sha256":"00"}` + "\n", "damaged or changed"},
	} {
		if _, err := Read(strings.NewReader(c.file)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v; want %q", c.file, err, c.want)
		}
	}
}

// TestScrub: whose card it is cannot be read out of a bundle, what it does can.
func TestScrub(t *testing.T) {
	secrets := []string{"ups-berth-4", "Quay 7, cabinet 2", "duty@example.org", "SN8841X", "10.20.30.40", "0:1b:21", "watchword"}
	list := []Object{
		object("1.3.6.1.2.1.1.1.0", text("UPS card, serial SN8841X")),
		object("1.3.6.1.2.1.1.3.0", ticks(100)),
		object("1.3.6.1.2.1.1.4.0", text("duty@example.org")),
		object("1.3.6.1.2.1.1.5.0", text("ups-berth-4")),
		object("1.3.6.1.2.1.1.6.0", text("Quay 7, cabinet 2")),
		object("1.3.6.1.2.1.2.2.1.2.1", text("port")),
		object("1.3.6.1.2.1.2.2.1.2.2", text("port to 10.20.30.40")),
		object("1.3.6.1.2.1.2.2.1.6.1", ber.Value{Tag: ber.OctetString, Bytes: []byte{0, 0x1b, 0x21, 1, 2, 3}}),
		object("1.3.6.1.2.1.4.20.1.1.1", ber.Value{Tag: ber.IPAddress, Bytes: []byte{10, 20, 30, 40}}),
		object("1.3.6.1.2.1.33.1.1.2.0", text("Model 1500")),
		object("1.3.6.1.2.1.33.1.1.5.0", text("ups-berth-4")),
		object("1.3.6.1.2.1.33.1.7.4.0", text("passed, says ups-berth-4")),
		object("1.3.6.1.2.1.47.1.1.1.1.11.1", text("SN8841X")),
		object("1.3.6.1.4.1.32473.9.1.0", text("anything")),
		object("1.3.6.1.4.1.32473.9.2.0", text("watchword")),
		object("1.3.6.1.6.3.10.2.1.1.0", ber.Value{Tag: ber.OctetString, Bytes: []byte("\x80\x00\x00\x01\x04SN8841X")}),
	}
	var file bytes.Buffer
	s := &Scrubber{}
	s.Hide("watchword")
	w, _ := NewWriter(&file, Header{Start: start, Interval: time.Second, Version: "2c"}, s)
	for i := range 2 {
		if err := w.Reading(Reading{At: time.Duration(i) * time.Second, Objects: list}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Notice(Notice{At: time.Second, Peer: "10.20.30.40:999", Trap: ber.OID{1, 3}, Objects: list}); err != nil {
		t.Fatal(err)
	}
	for _, secret := range secrets {
		if strings.Contains(file.String(), secret) || strings.Contains(file.String(), fmt.Sprintf("%x", secret)) {
			t.Errorf("%q is in the bundle:\n%s", secret, &file)
		}
	}
	b, err := Read(&file)
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"1.3.6.1.2.1.1.5.0": "string:name-1", "1.3.6.1.2.1.33.1.1.5.0": "string:name-1", "1.3.6.1.2.1.1.6.0": "string:location-1",
		"1.3.6.1.2.1.33.1.1.2.0": "string:Model 1500", "1.3.6.1.2.1.2.2.1.2.1": "string:port", "1.3.6.1.2.1.1.3.0": "ticks:100",
		"1.3.6.1.2.1.2.2.1.6.1": "octets:020000000001", "1.3.6.1.2.1.4.20.1.1.1": "address:198.18.0.1", "1.3.6.1.6.3.10.2.1.1.0": "octets:80007ed90500000001",
	} {
		for _, r := range b.Readings {
			if v, _ := r.Find(ber.MustOID(name)); textOf(v) != want {
				t.Errorf("%s is %s, want %s", name, textOf(v), want)
			}
		}
	}
}

// TestClocks: restarts, drift and date of a card.
func TestClocks(t *testing.T) {
	date := func(h, m, s byte) ber.Value {
		return ber.Value{Tag: ber.OctetString, Bytes: []byte{0x07, 0xea, 3, 2, h, m, s, 0, '+', 0, 0}}
	}
	c := Clocks{Start: start}
	for _, p := range []struct {
		at     time.Duration
		uptime int64
		date   ber.Value
	}{
		{0, 1_000_000, date(8, 2, 0)}, {time.Minute, 1_006_000, date(8, 3, 0)},
		{2 * time.Minute, 100, date(8, 4, 0)}, {102 * time.Minute, 100 + 600_600, date(9, 44, 7)},
	} {
		c.See(&Reading{At: p.at, Took: 20 * time.Millisecond, Objects: []Object{
			object("1.3.6.1.2.1.1.3.0", ticks(p.uptime)), object("1.3.6.1.2.1.25.1.2.0", p.date)}})
	}
	ppm, within, ok := c.Drift()
	if c.Restarts != 1 || !ok || ppm < 999 || ppm > 1001 || within > 50 {
		t.Errorf("%d restarts, drift %v +- %v ppm (%v); want one and 1000", c.Restarts, ppm, within, ok)
	}
	if want := 7*time.Minute + 7*time.Second; !c.Dated || c.Ahead != want {
		t.Errorf("%v ahead (%v), want %v", c.Ahead, c.Dated, want)
	}
	wrapped := Clocks{Start: start}
	for i, uptime := range []int64{1<<32 - 100, 5900} {
		wrapped.See(&Reading{At: time.Duration(i) * time.Minute, Objects: []Object{object("1.3.6.1.2.1.1.3.0", ticks(uptime))}})
	}
	if ppm, _, ok := wrapped.Drift(); wrapped.Restarts != 0 || !ok || ppm != 0 {
		t.Errorf("sysUpTime that wraps counts as %d restarts, drift %v", wrapped.Restarts, ppm)
	}
}

// FuzzRead: nothing makes the reader panic or loop, and what it has read it reads
// again the same once written.
func FuzzRead(f *testing.F) {
	var file bytes.Buffer
	w, _ := NewWriter(&file, Header{Start: start, Interval: time.Second, Version: "2c"}, &Scrubber{})
	w.Reading(Reading{Objects: []Object{object("1.3.6.1", number(1)), object("1.3.6.2", text("x"))}})
	w.Reading(Reading{At: time.Second, Objects: []Object{object("1.3.6.2", ticks(5))}})
	w.Notice(Notice{At: time.Second, Version: "2c", Trap: ber.OID{1, 3}, Objects: []Object{object("1.3.6.2", ticks(5))}})
	w.Gap(Gap{2 * time.Second, "no answer"})
	f.Add(file.Bytes())
	w.Close(3 * time.Second)
	f.Add(file.Bytes())
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := Read(bytes.NewReader(data))
		if err != nil {
			return
		}
		var out bytes.Buffer
		w, err := NewWriter(&out, b.Header, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range b.Readings {
			w.Reading(r)
		}
		again, err := Read(&out)
		if err != nil || len(again.Readings) != len(b.Readings) {
			t.Fatalf("%v of %q", err, out.String())
		}
		for i := range b.Readings {
			if !cmp.Equal(pairs(b.Readings[i].Objects), pairs(again.Readings[i].Objects)) {
				t.Fatalf("reading %d differs", i)
			}
		}
	})
}
