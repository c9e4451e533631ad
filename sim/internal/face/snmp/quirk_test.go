package snmp

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/quirk"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
	"ridethrough/sim/internal/face/ber"
)

// quirky is a source whose card has quirks, with their defaults where the list does
// not say otherwise.
func quirky(seed uint64, list ...snap.Quirk) *fake {
	f := demo()
	set := &snap.Quirks{Seed: seed, Serial: "S-1"}
	for _, q := range list {
		set = set.With(q)
	}
	f.dev.Card.Quirks = set
	return f
}

func byDefault(k snap.QuirkKind) snap.Quirk { return quirk.Of(k).Quirk() }

// TestFaultsBySeed: the same requests meet the same faults, for the same seed.
func TestFaultsBySeed(t *testing.T) {
	fate := func(seed uint64) []byte {
		lossy, cut, wrong := byDefault(snap.QuirkLossy), byDefault(snap.QuirkTruncated), byDefault(snap.QuirkWrongRequestID)
		cut.Percent, wrong.Percent = 20, 30
		a := New(quirky(seed, lossy, cut, wrong, byDefault(snap.QuirkReordered)), Config{})
		var all []byte
		for range 100 {
			reply, how := a.Answer(plain.encode(), named("peer"), nil)
			all = append(append(all, reply...), 0xff, byte(how.Hold/time.Millisecond))
		}
		return all
	}
	if !bytes.Equal(fate(5), fate(5)) {
		t.Error("one seed, two fates")
	}
	if bytes.Equal(fate(5), fate(6)) {
		t.Error("two seeds, one fate")
	}
}

// TestDamageIsBounded: no quirk makes a reply longer, or the agent stumble, and what
// is malformed does not decode.
func TestDamageIsBounded(t *testing.T) {
	for _, k := range []snap.QuirkKind{snap.QuirkMalformed, snap.QuirkTruncated} {
		rapid.Check(t, func(t *rapid.T) {
			seed := rapid.Uint64().Draw(t, "seed")
			r := req{version: ber.V2c, community: "watch", kind: ber.GetBulkRequest, b: rapid.Int32Range(0, 60).Draw(t, "rows"), names: []string{sysDescr}}
			sound := New(demo(), Config{}).Handle(r.encode(), "peer", nil)
			damaged := New(quirky(seed, byDefault(k)), Config{}).Handle(r.encode(), "peer", nil)
			if len(damaged) == 0 || len(damaged) > len(sound) {
				t.Fatalf("%d octets of %d", len(damaged), len(sound))
			}
			var m ber.Message
			if m.Decode(damaged) == nil {
				t.Fatalf("%v decodes: %x", k, damaged)
			}
		})
	}
}

// TestAllQuirksAtOnce: they go together, and no request makes the agent stumble.
func TestAllQuirksAtOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []snap.Quirk
		for _, e := range quirk.All() {
			if rapid.Bool().Draw(t, e.Kind.String()) && e.Kind != snap.QuirkHung {
				q := e.Quirk()
				if q.Objects == nil && e.Objects != quirk.NoObjects {
					q.Objects = []string{rapid.SampledFrom(e.Choice()).Draw(t, "object")}
				}
				list = append(list, q)
			}
		}
		a := New(quirky(rapid.Uint64().Draw(t, "seed"), list...), Config{})
		kind := rapid.SampledFrom([]ber.Tag{ber.GetRequest, ber.GetNextRequest, ber.GetBulkRequest}).Draw(t, "kind")
		version := rapid.SampledFrom([]int32{ber.V1, ber.V2c}).Draw(t, "version")
		r := req{version: version, community: "watch", kind: kind, b: 40, names: []string{sysDescr, sysUpTime}}
		for range 5 {
			if reply, how := a.Answer(r.encode(), named("peer"), nil); len(reply) > DefaultMaxSize || how.After > longest+10*time.Second*5 {
				t.Fatalf("%d octets after %v", len(reply), how.After)
			}
		}
	})
}

// TestOneAtATime: the second waits for the first, and who finds the queue full is
// never looked at.
func TestOneAtATime(t *testing.T) {
	q := byDefault(snap.QuirkOneAtATime)
	q.Count, q.Delay = 1, 100
	clock := time.Duration(0)
	f := quirky(1, q)
	a := New(f, Config{Clock: func() time.Duration { return clock }})
	set := by("steer", req{version: ber.V2c, kind: ber.SetRequest, names: []string{"1.3.6.1.2.1.33.1.8.2.0"}, values: []ber.Value{{Tag: ber.Integer, Int: 9}}})
	for _, step := range []struct {
		at, after time.Duration
		lost      bool
	}{
		{0, 100, false}, {10, 190, false}, {20, 0, true}, {99, 0, true}, {100, 200, false}, {500, 100, false},
	} {
		clock = step.at * time.Millisecond
		reply, how := a.Answer(set.encode(), named("peer"), nil)
		if lost := len(reply) == 0; lost != step.lost || how.After != step.after*time.Millisecond {
			t.Errorf("at %v: lost %v, after %v", step.at, lost, how.After)
		}
	}
	if n := len(f.submitted()); n != 4 {
		t.Errorf("%d writes reached the engine", n)
	}
}

// TestAbsentInV1: one absent object fails the whole request, and error-index says
// which (RFC 1157 section 4.1.2); a walk goes past it.
func TestAbsentInV1(t *testing.T) {
	const charge, volts = "1.3.6.1.2.1.33.1.2.4", "1.3.6.1.2.1.33.1.2.5"
	q := byDefault(snap.QuirkAbsent)
	q.Objects = []string{"upsEstimatedChargeRemaining"}
	a := New(quirky(1, q), Config{})
	m := ask(t, a, req{version: ber.V1, community: "watch", kind: ber.GetRequest, names: []string{sysUpTime, charge + ".0", volts + ".0"}})
	if Status(m.PDU.Status) != NoSuchName || m.PDU.Index != 2 {
		t.Errorf("status %d, index %d", m.PDU.Status, m.PDU.Index)
	}
	m = ask(t, a, req{version: ber.V1, community: "watch", kind: ber.GetNextRequest, names: []string{charge}})
	if got := m.PDU.VarBinds[0].Name.String(); got != volts+".0" {
		t.Errorf("next is %s", got)
	}
	set := by("steer", req{version: ber.V2c, kind: ber.SetRequest, names: []string{"1.3.6.1.2.1.33.1.8.2.0"}, values: []ber.Value{{Tag: ber.Integer, Int: 9}}})
	q.Objects = []string{"upsShutdownAfterDelay"}
	if m = ask(t, New(quirky(1, q), Config{}), set); Status(m.PDU.Status) != NotWritable {
		t.Errorf("an absent object can be written: status %d", m.PDU.Status)
	}
}

func TestSlowObjects(t *testing.T) {
	q := byDefault(snap.QuirkSlowObjects)
	a := New(quirky(1, q), Config{Clock: func() time.Duration { return 0 }})
	for _, tt := range []struct {
		r    req
		want int
	}{
		{plain, 1},
		{req{version: ber.V2c, community: "watch", kind: ber.GetRequest, names: []string{sysUpTime, sysDescr}}, 2},
		{req{version: ber.V2c, community: "watch", kind: ber.GetBulkRequest, b: 7, names: []string{sysDescr}}, 7},
	} {
		if _, how := a.Answer(tt.r.encode(), named("peer"), nil); how.After != time.Duration(tt.want)*300*time.Millisecond {
			t.Errorf("%d variables after %v", tt.want, how.After)
		}
	}
}

// TestActsAreTold: the first at once, then ever more rarely, with the count; anew
// when the quirk comes into force again; and never twice.
func TestActsAreTold(t *testing.T) {
	f := quirky(1, byDefault(snap.QuirkOneRowBulk))
	a := New(f, Config{})
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { a.Run(ctx); close(done) }()
	defer func() { stop(); <-done }()
	bulk := req{version: ber.V2c, community: "watch", kind: ber.GetBulkRequest, b: 3, names: []string{sysDescr}}.encode()
	start := f.now
	at := func(after vtime.Tick) {
		f.mu.Lock()
		f.now = start + after
		f.mu.Unlock()
		a.Handle(bulk, "peer", nil)
	}
	told := func(want int) {
		t.Helper()
		for {
			if c := f.submitted(); len(c) > 0 {
				if len(c) != 1 || c[0].Op != snap.OpQuirk || c[0].Text != "one-row-bulk" || c[0].Code != want {
					t.Errorf("got %+v, want %d acts", c, want)
				}
				return
			}
		}
	}
	at(0)
	told(1)
	for n := range vtime.Tick(60) {
		at(n * vtime.Second)
	}
	at(vtime.Minute)
	told(61)
	at(2 * vtime.Minute)
	at(3 * vtime.Minute)
	told(2)
	again := byDefault(snap.QuirkOneRowBulk)
	again.Since = start + 3*vtime.Minute + 1
	f.change(func(d *snap.Device) { d.Card.Quirks = d.Card.Quirks.With(again) })
	at(4 * vtime.Minute)
	told(1)
}

func BenchmarkGetQuirky(b *testing.B) {
	a := New(quirky(1, byDefault(snap.QuirkRuntimeZero)), Config{})
	request, out := plain.encode(), make([]byte, 0, 2*DefaultMaxSize)
	for b.Loop() {
		a.Handle(request, "peer", out)
	}
}

// TestManagerThatRemembers: a manager that kept the engine's boots and time over a
// restart of the card is in time again after one exchange, as boots have risen. If
// they were not kept, the standard has it refuse the time that seems to be past (RFC
// 3414 section 3.2 step 7b), until it discovers the engine anew.
func TestManagerThatRemembers(t *testing.T) {
	u := combo(snap.AuthSHA1, snap.PrivAES128)
	for name, tt := range map[string]struct {
		kept     bool
		remember []string
		works    bool
	}{
		"boots kept":     {true, []string{"-Z", "6,5000"}, true},
		"boots not kept": {false, []string{"-Z", "1,5000"}, false},
		"anew":           {false, nil, true},
	} {
		t.Run(name, func(t *testing.T) {
			f := secured(u)
			f.change(func(d *snap.Device) {
				d.Card.Boots = 7
				if !tt.kept {
					d.Card.Quirks = quirky(1, byDefault(snap.QuirkBootsNotKept)).dev.Card.Quirks
				}
			})
			target := fmt.Sprint("udp:", serve(t, New(f, Config{})))
			args := toolArgs(u)
			if !tt.works {
				args[slices.Index(args, "-t")+1] = "0.3"
			}
			out, _ := tool(t, "snmpget", slices.Concat(tt.remember, args, []string{target, batteryVolt})...)
			if works := strings.Contains(out, batteryVolt+" = INTEGER: 732"); works != tt.works {
				t.Errorf("got %q", out)
			}
		})
	}
}
