package plan_test

import (
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/plan"
	_ "ridethrough/sim/internal/drawn"
)

// TestRuntimeMonotone: more load, more wear and more cold never make a battery last
// longer, whatever its block.
func TestRuntimeMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		block := rapid.SampledFrom(blocks.All()).Draw(t, "block")
		b := plan.Battery{
			Cell: block.Cell, CapacityAh: block.CapacityAh, BlockCells: block.Cells, Cells: 6 * block.Cells, Strings: 2,
			Capacity: 1, Resistance: 1, LifeYears: 10,
		}
		cutoff := 1.7
		if block.Technology == blocks.LFP {
			m := blocks.ManagementFor(block.CapacityAh)
			b.Management, cutoff = &m, 2.8
		}
		if rapid.Bool().Draw(t, "open") {
			b.OpenStrings = 1
		}
		watts := block.CapacityAh * float64(b.Cells) * rapid.Float64Range(0.05, 4).Draw(t, "rate")
		temp, wear := rapid.Float64Range(-20, 60).Draw(t, "temp"), rapid.Float64Range(0, 3).Draw(t, "wear")
		runtime := func(tempC, wear, watts float64) float64 {
			p := b.Pack(tempC, wear)
			if err := p.Validate(); err != nil {
				t.Fatal(err)
			}
			return p.Runtime(p.AtCharge(1), watts, cutoff)
		}
		base := runtime(temp, wear, watts)
		for name, less := range map[string]float64{
			"load": runtime(temp, wear, 1.05*watts), "wear": runtime(temp, wear+0.1, watts), "cold": runtime(temp-3, wear, watts),
		} {
			if less > base*(1+1e-5)+1e-9 {
				t.Fatalf("more %s lasts %v h instead of %v h", name, less, base)
			}
		}
	})
}
