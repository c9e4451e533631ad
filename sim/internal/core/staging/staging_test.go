package staging_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/staging"
	"ridethrough/sim/internal/core/vtime"
)

const sec = vtime.Second

// site has its groups in no good order: the estate needs the base, all the switch.
const site = `
title = "staging"
run_for = "1m"
[ups]
rating_va = 3000
rating_w = 2700
[[group]]
name = "estate"
inrush = { times = 4, lasts = "120ms" }
[[group]]
name = "base"
inrush = { times = 4, lasts = "120ms" }
[[group]]
name = "wall"
fed_by = "mains"
[[group]]
name = "control"
on_delay = "0s"
control_path = true
[[host]]
name = "files"
group = "estate"
draw_w = 475
boot_takes = "1m"
needs = ["names"]
[[host]]
name = "names"
groups = ["base", "wall"]
draw_w = 570
boot_takes = "50s"
needs = ["switch"]
[[host]]
name = "switch"
group = "control"
draw_w = 57
boot_takes = "30s"
restart = "off"
`

func load(t *testing.T, src string) *plan.Plan {
	t.Helper()
	p, err := scenario.Load("test.toml", []byte(src), scenario.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestDelays: by what is needed, whatever the order in the file.
func TestDelays(t *testing.T) {
	p := load(t, site)
	for name, row := range map[string]struct {
		ready bool
		want  []vtime.Tick
	}{
		"apart": {false, []vtime.Tick{20 * sec, 10 * sec, vtime.Never, 0}},
		// Supplies past the unit do not count: they may be dead.
		"ready": {true, []vtime.Tick{80 * sec, 30 * sec, vtime.Never, 0}},
	} {
		if diff := cmp.Diff(row.want, staging.Delays(p, 10*sec, row.ready)); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

// TestRehearse holds the peaks against the sum by hand: volt-amperes at the power
// factor 0.95 of a host, four times as many while it rushes in, of which a host with
// two supplies has half on each.
func TestRehearse(t *testing.T) {
	const (
		files, names, path = 475 / 0.95 / 30, 570 / 0.95 / 30, 57 / 0.95 / 30 // percent of 3000 VA
	)
	p := load(t, site)
	for name, row := range map[string]struct {
		delays []vtime.Tick
		want   float64
	}{
		"apart":    {staging.Delays(p, 10*sec, false), path + names/2 + 4*files},
		"together": {make([]vtime.Tick, 4), path + names/2 + 3*names/2 + 4*files},
	} {
		peak, err := staging.Rehearse(p, row.delays)
		if err != nil || math.Abs(peak.Pct-row.want) > 1e-6 {
			t.Errorf("%s: %+v, %v, want %.6f", name, peak, err, row.want)
		}
	}
	if p.Groups[0].OnDelay != 0 || p.RunFor != vtime.Minute || !p.Groups[3].ControlPath {
		t.Error("the plan was changed")
	}
}
