package snmp

import (
	"context"
	"fmt"
	"net/netip"
	"sync"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

func TestMain(m *testing.M) { checks.Main(m) }

var plain = req{version: ber.V2c, community: "watch", kind: ber.GetRequest, names: []string{sysUpTime}}

// by is r with another community.
func by(community string, r req) req {
	r.community = community
	return r
}

func TestSilence(t *testing.T) {
	tests := []struct {
		name   string
		change func(*snap.Device)
		r      req
	}{
		{name: "card is off", change: func(d *snap.Device) { d.Card.State = snap.CardOff }, r: plain},
		{name: "card boots", change: func(d *snap.Device) { d.Card.State = snap.CardBooting }, r: plain},
		{name: "no address", change: func(d *snap.Device) { d.Card.Address.Prefix = netip.Prefix{} }, r: plain},
		{name: "wrong community", r: by("watcH", plain)},
		{name: "longer community", r: by("watch2", plain)},
		{name: "reading is off", change: func(d *snap.Device) { d.Card.Settings.ReadCommunity = snap.Secret{} }, r: plain},
		{name: "everything is off", change: func(d *snap.Device) {
			d.Card.Settings.ReadCommunity, d.Card.Settings.WriteCommunity = snap.Secret{}, snap.Secret{}
		}, r: by("", plain)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f := demo()
			if tt.change != nil {
				f.change(tt.change)
			}
			if m := ask(t, New(f, Config{}), tt.r); m != nil {
				t.Errorf("got %+v", m)
			}
		})
	}
	if m := ask(t, New(demo(), Config{}), by("steer", plain)); m == nil {
		t.Error("the write community cannot read")
	}
}

// TestCounted holds what each kind of message counts, besides its arrival.
func TestCounted(t *testing.T) {
	bulkV1 := req{version: ber.V1, community: "watch", kind: ber.GetBulkRequest, names: []string{sysDescr}}
	of := func(kind ber.Tag) []byte {
		return req{version: ber.V2c, community: "watch", kind: kind, names: []string{sysDescr}}.encode()
	}
	type counts map[model.Counter]uint32
	answered := func(c counts) counts {
		c[model.OutPkts], c[model.OutGetResponses] = 1, 1
		return c
	}
	tests := []struct {
		name    string
		message []byte
		want    counts
	}{
		{"garbage", []byte("hello"), counts{model.InASNParseErrs: 1}},
		{"version 3", []byte{0x30, 3, 2, 1, 3}, counts{model.InBadVersions: 1}},
		{"wrong community", by("x", plain).encode(), counts{model.InBadCommunityNames: 1}},
		{"get-bulk in v1", bulkV1.encode(), counts{model.InASNParseErrs: 1}},
		{"response", of(ber.Response), counts{model.InGetResponses: 1}},
		{"v1 trap", of(ber.TrapV1), counts{model.InTraps: 1}},
		{"v2 trap", of(ber.TrapV2), counts{model.InTraps: 1}},
		{"inform", of(ber.InformRequest), counts{model.InTraps: 1}},
		{"report", of(ber.Report), counts{model.InTraps: 1}},
		{"get", of(ber.GetRequest), answered(counts{model.InGetRequests: 1, model.InTotalReqVars: 1})},
		{"next", of(ber.GetNextRequest), answered(counts{model.InGetNexts: 1, model.InTotalReqVars: 1})},
		{"bulk", of(ber.GetBulkRequest), answered(counts{})},
		{"set", write(ber.V2c, "steer", "sysName", str("x")).encode(), answered(counts{model.InSetRequests: 1, model.InTotalSetVars: 1})},
		{"v1 no such name", req{version: ber.V1, community: "watch", kind: ber.GetRequest, names: []string{"1.3"}}.encode(),
			answered(counts{model.InGetRequests: 1, model.OutNoSuchNames: 1})},
		{"v1 bad value", write(ber.V1, "steer", "sysName", num(1)).encode(), answered(counts{model.InSetRequests: 1, model.OutBadValues: 1})},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a := New(demo(), Config{})
			reply := a.Handle(tt.message, "", nil)
			if (len(reply) > 0) != (tt.want[model.OutPkts] == 1) {
				t.Errorf("reply %x", reply)
			}
			tt.want[model.InPkts] = 1
			for k := model.InPkts; k <= model.ProxyDrops; k++ {
				if got := a.counters.Load(k); got != tt.want[k] {
					t.Errorf("counter %d is %d, want %d", k, got, tt.want[k])
				}
			}
		})
	}
}

// inPkts reads snmpInPkts through the agent.
func inPkts(t *testing.T, a *Agent) int64 {
	t.Helper()
	return ask(t, a, req{version: ber.V2c, community: "watch", kind: ber.GetRequest, names: []string{"1.3.6.1.2.1.11.1.0"}}).PDU.VarBinds[0].Value.Int
}

func TestRestartResetsCounters(t *testing.T) {
	f := demo()
	a := New(f, Config{})
	for want := int64(1); want <= 3; want++ {
		if got := inPkts(t, a); got != want {
			t.Errorf("counted %d, want %d", got, want)
		}
	}
	f.change(func(d *snap.Device) { d.Card.Boots++ })
	if got := inPkts(t, a); got != 1 {
		t.Errorf("counted %d after a restart, want 1", got)
	}
}

// TestAuthFail floods the agent with wrong communities: the engine hears of one
// in a simulated second, and nobody waits for it.
func TestAuthFail(t *testing.T) {
	checks.EndsWithin(t, 2*time.Minute)
	f := demo()
	heard := make(chan snap.Command)
	a := New(submitter{f, heard}, Config{})
	wrong := by("guess", plain)
	for range 100 {
		ask(t, a, wrong) // nobody listens yet
	}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { a.Run(ctx); close(ended) }()

	want := snap.Command{Op: snap.OpAuthFail, By: snap.Actor{Surface: "snmp", Peer: "198.51.100.7:40000"}}
	for range 3 {
		if got := <-heard; got.Op != want.Op || got.By != want.By {
			t.Errorf("heard %+v", got)
		}
		f.mu.Lock()
		f.now += vtime.Second
		f.mu.Unlock()
		for range 100 {
			ask(t, a, wrong)
		}
	}
	<-heard
	cancel()
	<-ended
	select {
	case c := <-a.reports:
		t.Errorf("one too many: %+v", c)
	default:
	}
}

// submitter hands each command over and waits until somebody takes it.
type submitter struct {
	*fake
	heard chan snap.Command
}

func (s submitter) Submit(c snap.Command) snap.Result {
	s.heard <- c
	return snap.Result{}
}

// TestConcurrent has many clients at one agent; the race detector watches.
func TestConcurrent(t *testing.T) {
	f := demo()
	a := New(f, Config{})
	var group sync.WaitGroup
	for id := range int32(8) {
		group.Go(func() {
			var m ber.Message
			out := make([]byte, 0, DefaultMaxSize)
			for i := range 200 {
				name := fmt.Sprintf("1.3.6.1.2.1.33.1.%d", i%9+1)
				r := req{version: ber.V2c, community: "steer", kind: ber.GetBulkRequest, id: id, b: 20, names: []string{name}}
				if i%10 == 0 {
					r = write(ber.V2c, "steer", "sysName", str("n"))
					r.id = id
				}
				out = a.Handle(r.encode(), "", out)
				if err := m.Decode(out); err != nil || m.PDU.RequestID != id || m.PDU.Status != 0 {
					t.Errorf("%x: %v", out, err)
					return
				}
			}
		})
	}
	for range 50 {
		f.change(func(d *snap.Device) { d.Card.Boots++; d.Alarms.Count = 1 + d.Alarms.Count%2 })
	}
	group.Wait()
}

// FuzzHandle holds that no bytes make the agent panic or answer something that
// is not a response to them.
func FuzzHandle(f *testing.F) {
	f.Add(plain.encode())
	f.Add(req{version: ber.V2c, community: "steer", kind: ber.GetBulkRequest, a: 1, b: 40, names: []string{alarmDescr, sysDescr}}.encode())
	f.Add(req{version: ber.V1, community: "steer", kind: ber.GetNextRequest, names: []string{lastOne}}.encode())
	f.Add(write(ber.V1, "steer", "upsTestSpinLock", num(1), "upsTestId", ident("1.3.6.1.2.1.33.1.7.7.5")).encode())
	f.Add(write(ber.V2c, "steer", "sysName", str("x"), "upsRebootWithDuration", num(999)).encode())
	source := demo()
	a := New(source, Config{})
	f.Fuzz(func(t *testing.T, b []byte) {
		reply := a.Handle(b, "", nil)
		source.submitted()
		if len(reply) == 0 {
			return
		}
		if len(reply) > DefaultMaxSize {
			t.Fatalf("reply of %d octets", len(reply))
		}
		var asked, got ber.Message
		if err := asked.Decode(b); err != nil {
			t.Fatalf("answered what does not decode: %v", err)
		}
		if err := got.Decode(reply); err != nil {
			t.Fatalf("reply %x: %v", reply, err)
		}
		if got.Version != asked.Version || string(got.Community) != string(asked.Community) ||
			got.PDU.Type != ber.Response || got.PDU.RequestID != asked.PDU.RequestID || int(got.PDU.Index) > len(asked.PDU.VarBinds) {
			t.Fatalf("reply %x does not belong to %x", reply, b)
		}
	})
}

func benchmark(b *testing.B, r req) {
	a, request, out := New(demo(), Config{}), r.encode(), make([]byte, 0, DefaultMaxSize)
	b.ReportAllocs()
	for b.Loop() {
		out = a.Handle(request, "", out)
	}
	b.ReportMetric(float64(len(out)), "octets")
}

func BenchmarkGet(b *testing.B) {
	benchmark(b, req{version: ber.V2c, community: "watch", kind: ber.GetRequest, names: []string{sysDescr}})
}

func BenchmarkGetNext(b *testing.B) {
	benchmark(b, req{version: ber.V2c, community: "watch", kind: ber.GetNextRequest, names: []string{alarmDescr + ".2"}})
}

func BenchmarkGetBulk30(b *testing.B) {
	benchmark(b, req{version: ber.V2c, community: "watch", kind: ber.GetBulkRequest, b: 30, names: []string{"1.3.6.1.2.1.11"}})
}

func BenchmarkRefused(b *testing.B) {
	benchmark(b, req{version: ber.V1, community: "watch", kind: ber.GetRequest, names: []string{"1.3.6.1.2.1.99"}})
}

// TestReadsAllocateNothing is what makes the benchmarks' figures stay.
func TestReadsAllocateNothing(t *testing.T) {
	if raceEnabled {
		t.Skip("the race detector makes pools forget")
	}
	for _, kind := range []ber.Tag{ber.GetRequest, ber.GetNextRequest, ber.GetBulkRequest} {
		for _, second := range []string{"1.3.6.1.2.1.33.1.6.3", "1.3.6.1.2.1.47.1.1.1.1.7", "1.3.6.1.2.1.99", "1.3.6.1.4.1.32473.1.2.2"} {
			a, out := New(demo(), Config{}), make([]byte, 0, 2*DefaultMaxSize) // a bulk is filled until one more does not fit
			request := req{version: ber.V2c, community: "watch", kind: kind, b: 30, names: []string{sysDescr, second}}.encode()
			if n := testing.AllocsPerRun(200, func() { out = a.Handle(request, "", out) }); n >= 1 {
				t.Errorf("%#x of %s allocates %v times", byte(kind), second, n)
			}
		}
	}
}
