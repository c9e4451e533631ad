package engine

import (
	"fmt"
	"net/netip"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/trace"
	"ridethrough/sim/internal/core/vtime"
)

// branch is a small site: 3 kVA, 36 cells of 9 Ah, eight hosts of 120 W. The
// figures are invented.
func branch() *plan.Plan {
	p := &plan.Plan{
		Title: "branch", Seed: 7, RunFor: 45 * vtime.Minute,
		Start:  time.Date(2026, 3, 2, 7, 55, 0, 0, time.UTC),
		Source: plan.Source{Volts: 230, Hz: 50},
		UPS: plan.UPS{
			RatingVA: 3000, RatingW: 2700, LowTransferV: 170, HighTransferV: 276,
			BoostBelowV: 207, ReduceAboveV: 253, Ratio: 1.15, LowHz: 45, HighHz: 55,
			HysteresisV: 5, Transfer: 4, Qualify: 3 * vtime.Second,
			MainsLoss:   plan.LossCurve{NoLoad: 0.01, Linear: 0.01, Quadratic: 0.01},
			BatteryLoss: plan.LossCurve{NoLoad: 0.02, Linear: 0.04, Quadratic: 0.03},
			LowBatteryMinutes: 5, ShutdownType: 1, AutoRestart: true, Audible: snap.AudibleEnabled,
		},
		Battery: plan.Battery{
			Cells: 36, Strings: 1, CapacityAh: 9, ChargePct: 100, CutoffV: 1.70,
			FloatV: 2.27, ChargeA: 1.35, AmbientC: 24,
		},
		Card: plan.Card{
			Identity: snap.Identity{SerialNumber: "RT-0001"},
			Settings: snap.Settings{
				Mode: snap.AddressFixed, Fixed: netip.MustParsePrefix("192.0.2.20/24"),
			},
			BootTakes: 75 * vtime.Second, User: "technician",
		},
		Network: plan.Network{DHCP: "present"},
		Groups:  []plan.Group{{Name: "racks", OffDelay: vtime.Never}},
	}
	for i := range 8 {
		p.Hosts = append(p.Hosts, plan.Host{
			Name: fmt.Sprintf("h%d", i), DrawW: 120, PowerFactor: 0.95, HoldUp: 16,
			Stop: 90 * vtime.Second, Boot: 2 * vtime.Minute,
		})
	}
	return p
}

func outage(p *plan.Plan) *plan.Plan {
	p.Entries = []plan.Entry{
		{At: vtime.Minute, Actions: []plan.Action{{Kind: plan.ActSource}}},
		{At: 35 * vtime.Minute, Actions: []plan.Action{{Kind: plan.ActSource, Volts: 230, Hz: 50}}},
	}
	return p
}

func managed(p *plan.Plan) *plan.Plan {
	p.Policy = &plan.Policy{
		Poll: 10 * vtime.Second, Confirm: 2, OnBatteryFor: 2 * vtime.Minute, IgnoreTest: true,
		HostDeadline: 3 * vtime.Minute, InOrder: true, OffDelay: 30 * vtime.Second, OffWhen: "stopped",
		StartDelay: vtime.Never,
	}
	return p
}

func traceOf(t *testing.T, p *plan.Plan) string {
	t.Helper()
	var b strings.Builder
	w := trace.New(&b, p)
	e, first, err := New(p, nil)
	if err != nil {
		t.Fatal(err)
	}
	each := func(f Frame) { w.Frame(f.Events, f.Site) }
	each(first)
	Run(e, each)
	w.End(e.site.View())
	return b.String()
}

func TestX(t *testing.T) {
	fmt.Println(traceOf(t, outage(branch())))
	fmt.Println(traceOf(t, managed(outage(branch()))))
}

func BenchmarkOutage45Minutes(b *testing.B) {
	for b.Loop() {
		e, _, _ := New(managed(outage(branch())), nil)
		Run(e, func(Frame) {})
	}
}

func BenchmarkDay(b *testing.B) {
	p := managed(outage(branch()))
	p.RunFor = 24 * vtime.Hour
	n := 0
	for b.Loop() {
		e, _, _ := New(p, nil)
		n = 0
		Run(e, func(Frame) { n++ })
	}
	b.ReportMetric(float64(n), "steps/run")
}
