package fleet

import (
	"math"
	"net/netip"
	"runtime"
	"testing"

	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/host/pace"
)

const small = `
title = "a fleet"
run_for = "24h"
[fleet]
count = 2
[card]
read_community = "watch"
receivers = [{ to = "198.51.100.20:162", community = "tell" }]
[[host]]
name = "server"
draw_w = 400
[[expect]]
name = "nobody is cut"
that = "hosts_cut > 0"
never = true
`

func config(t testing.TB, text string, n int) Config {
	t.Helper()
	p, err := scenario.Load("fleet.toml", []byte(text), scenario.Options{})
	if err != nil {
		t.Fatal(err)
	}
	clock, err := pace.New(1)
	if err != nil {
		t.Fatal(err)
	}
	return Config{
		Groups: []Group{{
			Plan: p, First: 1, Count: n, Inject: scenario.Injector(p), Compile: scenario.Conditions(p),
			Member: scenario.Members(p),
		}},
		Clock: clock, First: netip.MustParseAddrPort("127.0.0.1:0"), Shards: 2,
		Receivers: map[netip.AddrPort]netip.AddrPort{},
		Log:       func(line string) { t.Log(line) },
	}
}

func open(t testing.TB, c Config) *Fleet {
	t.Helper()
	f, err := Open(c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(f.Close)
	return f
}

// BenchmarkOpen makes and binds devices, and says what each takes of the heap: at
// rest, and with an agent.
func BenchmarkOpen(b *testing.B) {
	const n = 2000
	for range b.N {
		before := live()
		f := open(b, config(b, small, n))
		rest := live()
		for i := range n {
			u := f.unit(i + 1)
			u.shard.caller.unit = u
			u.talker().Answer([]byte("no request"), &u.shard.caller, u.shard.out)
		}
		agents := live()
		b.ReportMetric(float64(rest-before)/n, "B/device")
		b.ReportMetric(float64(agents-before)/n, "B/device-asked")
		runtime.KeepAlive(f)
	}
}

// live is the heap once nothing more of it is freed.
func live() uint64 {
	var m runtime.MemStats
	for least := uint64(math.MaxUint64); ; least = m.HeapAlloc {
		runtime.GC() // a pool lets go of what it holds with the second only
		runtime.ReadMemStats(&m)
		if m.HeapAlloc >= least {
			return least
		}
	}
}
