package scenario

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/vary"
	"ridethrough/sim/internal/core/vtime"
)

const variedSite = `title = "varied"
run_for = "1h"
[battery]
series = 6
[[host]]
name = "db"
draw_w = 300
[[host]]
name = "web"
draw_w = 100
[policy]
on_battery_for = "5m"
[[at]]
name = "outage"
time = "1m"
source = { volts = 0, lasts = "10m" }
[[expect]]
name = "clean"
that = "hosts_cut == 0"
always = true
[vary]
battery.age_years = { uniform = [0, 6] }
battery.health.capacity_pct = { normal = { mean = 90, sd = 5 }, max = 100 }
battery.series = { uniform = [5, 8] }
host.db.stop_takes = { lognormal = { median = "2m", p95 = "5m" }, max = "20m" }
host.2.draw_w = { triangular = [50, 100, 250] }
"policy.order" = { choice = ["by-needs", "all-at-once"], weights = [3, 1] }
at.outage.source.lasts = { empirical = ["30s", "4m", "25m"] }
at.outage.time = { grid = ["1m", "2m"] }
policy.poll_every = { grid = ["5s", "10s", "20s"] }
policy.confirm = { constant = 2 }
[[variant]]
name = "new"
why = "A new battery."
misses = []
set = { "battery.age_years" = 0, "vary.host.db.stop_takes" = { constant = "7m" } }
`

func newMold(t *testing.T, src, variant string) *Mold {
	t.Helper()
	m, err := NewMold("test.toml", []byte(src), Options{Variant: variant})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func draws(m *Mold, seed uint64, run int) []float64 {
	var list []float64
	for i := range m.quantities {
		list = append(list, m.quantities[i].Draw(seed, run))
	}
	return list
}

func TestMoldPutsDrawsWhereTheyBelong(t *testing.T) {
	m := newMold(t, variedSite, "")
	want := []string{
		"battery.age_years: uniform from 0 to 6", "battery.health.capacity_pct: normal, mean 90, sd 5, max 100", "battery.series: uniform from 5 to 8",
		"host.db.stop_takes: lognormal, median 2m0s, 95 % below 5m0s, max 20m0s", "host.web.draw_w: triangular from 50 to 250, mode 100",
		"policy.order: choice of by-needs, all-at-once, weights 3, 1", "at.outage.source.lasts: empirical of 30s, 4m0s, 25m0s",
		"at.outage.time: grid of 1m0s, 2m0s", "policy.poll_every: grid of 5s, 10s, 20s", "policy.confirm: constant of 2",
	}
	var got []string
	for _, q := range m.Quantities() {
		got = append(got, q.Path+": "+q.Text)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Fatalf("-want +got:\n%s", diff)
	}
	d := []float64{1, 87.5, 7, 200.5, 77, 1, 61.25, 120, 20, 2}
	p, err := m.Plan(11, d)
	if err != nil {
		t.Fatal(err)
	}
	e := p.Entries[0]
	switch {
	case p.Seed != 11, p.Battery.Capacity != 0.875, p.Battery.Cells != 42, p.Hosts[0].Stop != 200500, p.Hosts[1].DrawW != 77, p.Policy.InOrder,
		e.At != 2*vtime.Minute, e.Actions[0].Change.Lasts != 61250, p.Policy.Poll != 20*vtime.Second, p.Policy.Confirm != 2:
		t.Errorf("%+v\n%+v", p, p.Policy)
	}
}

// Draws are those that the table asks for, whatever else it has.
func TestDrawsOfOneQuantityDependOnNothingElse(t *testing.T) {
	all := newMold(t, variedSite, "")
	at := strings.Index(variedSite, "[vary]")
	end := strings.Index(variedSite, "[[variant]]")
	alone := newMold(t, strings.Replace(variedSite[:at], "draw_w = 300", "draw_w = 444", 1)+"[vary]\nhost.db.stop_takes = { lognormal = { median = \"2m\", p95 = \"5m\" }, max = \"20m\" }\n"+variedSite[end:], "")
	for run := 1; run <= 100; run++ {
		if a, b := all.quantities[3].Draw(7, run), alone.quantities[0].Draw(7, run); a != b {
			t.Fatalf("run %d: %g and %g", run, a, b)
		}
	}
}

func TestVariantFixesAndVaries(t *testing.T) {
	m := newMold(t, variedSite, "new")
	q := m.Quantities()
	if !q[0].Fixed || q[1].Fixed || q[3].Draw(1, 5) != 420 {
		t.Errorf("%v %v %g", q[0].Fixed, q[1].Fixed, q[3].Draw(1, 5))
	}
	base := draws(newMold(t, variedSite, ""), 7, 3)
	got := draws(m, 7, 3)
	base[3] = 420
	if diff := cmp.Diff(base, got); diff != "" {
		t.Errorf("the other draws differ:\n%s", diff)
	}
}

func TestDrawsFollowTheirDistributions(t *testing.T) {
	m := newMold(t, variedSite, "")
	const n = 4000
	counts := map[float64]int{}
	var stops, loads []float64
	words := 0
	for run := 1; run <= n; run++ {
		d := draws(m, 3, run)
		counts[d[2]]++
		stops, loads = append(stops, d[3]), append(loads, d[4])
		words += int(d[5])
		if d[7] != []float64{60, 120}[(run-1)%2] || d[8] != []float64{5, 10, 20}[(run-1)/2%3] {
			t.Fatalf("run %d: grids at %g and %g", run, d[7], d[8])
		}
	}
	for v, c := range counts {
		if v < 5 || v > 8 || math.Abs(float64(c)-n/4) > 120 {
			t.Errorf("series %g: %d times", v, c)
		}
	}
	slices.Sort(stops)
	if m, top := stops[n/2], stops[n*95/100]; math.Abs(m-120) > 4 || math.Abs(top-300) > 18 || stops[n-1] > 1200 {
		t.Errorf("median %g, 95 %% below %g", m, top)
	}
	if slices.Min(loads) < 50 || slices.Max(loads) > 250 || math.Abs(float64(words)-n/4) > 120 {
		t.Errorf("loads %g to %g, %d words", slices.Min(loads), slices.Max(loads), words)
	}
}

// Values that do not go together are told like those of a file.
func TestMoldRefusesWhatDoesNotGoTogether(t *testing.T) {
	m := newMold(t, variedSite, "")
	d := draws(m, 7, 1)
	d[7] = 7200
	if _, err := m.Plan(1, d); err == nil || !strings.HasPrefix(err.Error(), "test.toml:29:") {
		t.Errorf("%v", err)
	}
}

// BenchmarkMold is a plan of a mold.
func BenchmarkMold(b *testing.B) {
	m, err := NewMold("x", []byte(variedSite), Options{})
	if err != nil {
		b.Fatal(err)
	}
	d := draws(m, 1, 1)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.Plan(1, d); err != nil {
			b.Fatal(err)
		}
	}
}

// TestStudyDocsExample reads the table of docs/study.md, and every distribution that its
// list names.
func TestStudyDocsExample(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "..", "docs", "study.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, table, _ := strings.Cut(string(text), "```toml\n")
	table, _, _ = strings.Cut(table, "```")
	at := strings.Index(variedSite, "[vary]")
	m := newMold(t, strings.NewReplacer("[vary]", "", `name = "new"`, "").Replace(variedSite[:at])+table, "")
	if n := len(m.Quantities()); n != 6 {
		t.Errorf("%d quantities", n)
	}
	for _, k := range vary.Kinds() {
		if !strings.Contains(string(text), "| `"+string(k)+" = ") {
			t.Errorf("docs/study.md does not list %s", k)
		}
	}
}
