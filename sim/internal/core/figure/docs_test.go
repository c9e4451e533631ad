package figure_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/figure"
	"ridethrough/sim/internal/core/fit"
	"ridethrough/sim/internal/core/voltage"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/battery"
	"ridethrough/sim/internal/phys/mains"
	"ridethrough/sim/internal/phys/power"
	"ridethrough/sim/internal/phys/thermal"
)

var update = flag.Bool("update", false, "draw the charts of docs/physics anew")

// The charts of docs/physics are drawn by the models themselves.
func TestChartsOfTheDocumentation(t *testing.T) {
	for name, chart := range map[string]figure.Chart{
		"battery-discharge": discharge(t, "agm-12v-7ah"),
		"battery-lithium":   discharge(t, "lfp-12.8v-100ah"),
		"battery-recovery":  recovery(),
		"battery-fit":       fitted(t, "agm-12v-100ah-front-terminal"),
		"battery-fit-rough": fitted(t, "agm-12v-62ah-front-terminal"),
		"charger":           charge(),
		"temperature":       temperature(),
		"ageing":            ageing(),
		"losses":            losses(),
		"overload":          overload(),
		"voltage-events":    variations(),
		"heat":              heat(),
		"cooling-fails":     failure(t),
		"generator":         step(),
		"estimate":          estimates(t),
		"windows":           windows(t),
	} {
		t.Run(name, func(t *testing.T) {
			checks.Generated(t, checks.Path(t, "docs", "physics", name+".svg"), written(t, chart, figure.SVG), 0.05, *update)
		})
	}
}

// Every chart stands on a page, and every page that is named is there.
func TestPagesAndChartsBelongTogether(t *testing.T) {
	folder := checks.Path(t, "docs", "physics")
	pages, err := filepath.Glob(filepath.Join(folder, "*.md"))
	if err != nil || len(pages) < 7 {
		t.Fatalf("%d pages, %v", len(pages), err)
	}
	shown := map[string]bool{}
	link := regexp.MustCompile(`\]\(([^):]+)\)`)
	for _, page := range pages {
		text, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range link.FindAllStringSubmatch(string(text), -1) {
			shown[m[1]] = true
			if _, err := os.Stat(filepath.Join(folder, m[1])); err != nil {
				t.Errorf("%s: %v", filepath.Base(page), err)
			}
		}
	}
	charts, _ := filepath.Glob(filepath.Join(folder, "*.svg"))
	for _, c := range charts {
		if !shown[filepath.Base(c)] {
			t.Errorf("%s stands on no page", filepath.Base(c))
		}
	}
}

func written(t testing.TB, c figure.Chart, f figure.Format) string {
	t.Helper()
	var b bytes.Buffer
	if err := c.Write(&b, f); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func block(t testing.TB, name string) *blocks.Block {
	t.Helper()
	b, ok := blocks.ByName(name)
	if !ok {
		t.Fatal("no block ", name)
	}
	return &b
}

func discharge(t testing.TB, name string) figure.Chart { return figure.Discharge(block(t, name)) }

func fitted(t testing.TB, name string) figure.Chart {
	t.Helper()
	b := block(t, name)
	f, err := os.Open(checks.Path(t, "testdata", "tables", b.Table))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	table, err := fit.Read(f, b.Cells)
	if err != nil {
		t.Fatal(err)
	}
	return figure.FitChart(b.Name, &b.Cell, fit.Of(table.Rows, fit.ConstantPower, 1.6, 1.8))
}

// reference is the set of figures for checks of implementations (derived).
func reference() battery.Params {
	return battery.Params{
		C: 7.5, N: 2, Modes: [battery.MaxModes]battery.Mode{{A: 2.4, Lambda: 24}, {A: 0.95, Lambda: 0.80}},
		E0: 2.14, Es: 0.20, R: 0.0090, B: 0.110,
	}
}

// recovery is a block of six reference cells at 12 W a cell to 10.5 V, and ten
// hours of rest after.
func recovery() figure.Chart {
	p := reference()
	s := p.AtCharge(1)
	minute := p.NewStep(1.0 / 60)
	var line []figure.XY
	for t := 0; ; t++ {
		next, amps, ok := minute.ConstantPower(&p, s, 12)
		volts := 6 * p.Volts(next, amps)
		if !ok || volts < 10.5 {
			break
		}
		s = next
		line = append(line, figure.XY{X: float64(t+1) / 60, Y: volts})
	}
	start := line[len(line)-1].X
	rest := []figure.XY{line[len(line)-1], {X: start, Y: 6 * p.Volts(s, 0)}}
	for t := range 10 * 60 {
		s = minute.ConstantCurrent(&p, s, 0)
		rest = append(rest, figure.XY{X: start + float64(t+1)/60, Y: 6 * p.Volts(s, 0)})
	}
	c := figure.Chart{
		Title:    "A block after its load is gone",
		Subtitle: "reference cell, 12 W a cell to 1.75 V, then rest: a step by the resistance, then minutes, then hours",
		X:        figure.Axis{Label: "Time, h", Min: 0, Max: 10}, Y: figure.Axis{Label: "Voltage of the block, V", Min: 10.4, Max: 12.8},
		Series: []figure.Series{{Name: "under load", Points: line, Colour: figure.Red}, {Name: "at rest", Points: rest, Colour: figure.Blue}},
	}
	for _, q := range []struct {
		after, volts float64
	}{{0, 10.87}, {5.0 / 60, 11.50}, {1, 12.01}, {8, 12.26}} {
		c.Series = append(c.Series, figure.Series{Points: []figure.XY{{X: start + q.after, Y: q.volts}}, Mark: figure.Rings})
	}
	c.Series[2].Name = "check values (derived)"
	return c
}

// charge is a charge from empty at 0.1 C to 2.25 V a cell against the points read
// from a data sheet's chart.
func charge() figure.Chart {
	p := battery.Params{C: 1, E0: 2.14, Es: 0.20, R: 0.1}
	charger := battery.Charger{SetV: 2.25, MaxA: 0.1, Efficiency: 0.97, FloatA: 0.002}
	st := p.NewStep(1.0 / 60)
	s := p.AtCharge(0)
	var current, volume []figure.XY
	for i := range 24 * 60 {
		next, amps := charger.Step(&st, &p, s)
		s = next
		current = append(current, figure.XY{X: float64(i+1) / 60, Y: 1000 * amps})
		volume = append(volume, figure.XY{X: float64(i+1) / 60, Y: 100 * p.Charge(s)})
	}
	return figure.Chart{
		Title:    "Charge from empty at 0.1 C to 2.25 V a cell",
		Subtitle: "new, 25 °C; rings: current read by eye from the chart of a data sheet",
		X:        figure.Axis{Label: "Time, h", Min: 0, Max: 24}, Y: figure.Axis{Label: "Current, mA per Ah, and charge, %", Min: 0, Max: 110},
		Series: []figure.Series{
			{Name: "current, mA per Ah", Points: current, Colour: figure.Red},
			{Name: "charge, %", Points: volume, Colour: figure.Blue},
			{Name: "data sheet's chart", Points: []figure.XY{{X: 7.4, Y: 100}, {X: 10, Y: 30}, {X: 12, Y: 20}, {X: 16, Y: 11.5}, {X: 20, Y: 8}}, Mark: figure.Rings},
		},
		LegendTop: true, LegendGap: 55,
	}
}

// temperature is what is left of a typical block's capacity by temperature, at
// three rates.
func temperature() figure.Chart {
	c := figure.Chart{
		Title:    "Capacity by temperature and rate",
		Subtitle: "typical cell to 1.60 V; rings: data sheets at the 10-hour rate, cross: a data sheet's chart at 1 CA",
		X:        figure.Axis{Label: "Temperature, °C", Min: -20, Max: 50}, Y: figure.Axis{Label: "Capacity, % of that at 25 °C", Min: 40, Max: 110},
	}
	warm := battery.FromC20(10)
	for i, r := range []struct {
		name string
		amps float64
	}{{"10-hour current", 0.93}, {"1-hour current", 5.8}, {"1 CA", 10}} {
		full := warm.RuntimeAtCurrent(warm.AtCharge(1), r.amps, 1.6)
		var line []figure.XY
		for temp := -20.0; temp <= 50; temp++ {
			p := warm.Scaled(battery.CapacityFactor(temp), battery.ResistanceFactor(temp))
			line = append(line, figure.XY{X: temp, Y: 100 * p.RuntimeAtCurrent(p.AtCharge(1), r.amps, 1.6) / full})
		}
		c.Series = append(c.Series, figure.Series{Name: r.name, Points: line, Colour: figure.Blue + i})
	}
	c.Series = append(c.Series,
		figure.Series{Name: "printed, 10 h", Points: []figure.XY{{X: -15, Y: 65}, {X: 0, Y: 86}, {X: 25, Y: 100}, {X: 40, Y: 103}}, Mark: figure.Rings},
		figure.Series{Name: "printed, 1 CA", Points: []figure.XY{{X: 0, Y: 65}}, Mark: figure.Crosses})
	return c
}

// ageing is the runtime that a typical cell keeps over its life on float.
func ageing() figure.Chart {
	c := figure.Chart{
		Title:    "Runtime over a life on float charge",
		Subtitle: "typical cell to 1.75 V; capacity falls to 80 %, resistance rises to 150 % at the end of life",
		X:        figure.Axis{Label: "Share of life used, %", Min: 0, Max: 120}, Y: figure.Axis{Label: "Runtime, % of new", Min: 0, Max: 102},
		LegendLeft: true,
	}
	fresh := battery.FromC20(10)
	for i, minutes := range []float64{5, 15, 60, 1200} {
		watts := carriedFor(&fresh, minutes/60)
		var line []figure.XY
		for damage := 0.0; damage <= 1.2; damage += 0.05 {
			p := fresh.Scaled(battery.AgedCapacity(damage), battery.AgedResistance(damage))
			line = append(line, figure.XY{X: 100 * damage, Y: 100 * p.Runtime(p.AtCharge(1), watts, 1.75) / (minutes / 60)})
		}
		name := map[float64]string{5: "5 min when new", 15: "15 min", 60: "1 h", 1200: "20 h"}[minutes]
		c.Series = append(c.Series, figure.Series{Name: name, Points: line, Colour: figure.Family + 8 - 2*i})
	}
	return c
}

func carriedFor(p *battery.Params, hours float64) float64 {
	lo, hi := 0.0, 200.0
	for range 50 {
		if mid := (lo + hi) / 2; p.Runtime(p.AtCharge(1), mid, 1.75) > hours {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

func losses() figure.Chart {
	c := figure.Chart{
		Title:    "Efficiency of a converter",
		Subtitle: "a + b x + c x² of the rating; rings: published or derived points",
		X:        figure.Axis{Label: "Output, % of rating", Min: 0, Max: 101}, Y: figure.Axis{Label: "Efficiency, %", Min: 60, Max: 100},
	}
	gold := power.LossThrough([3]power.EfficiencyPoint{{Load: 0.2, Efficiency: 0.87}, {Load: 0.5, Efficiency: 0.90}, {Load: 1, Efficiency: 0.87}})
	for i, k := range []struct {
		name  string
		curve power.LossCurve
	}{
		{"on battery: 0.020, 0.020, 0.025", power.LossCurve{NoLoad: 0.020, Linear: 0.020, Quadratic: 0.025}},
		{"on mains: 0.010, 0.003, 0.007", power.LossCurve{NoLoad: 0.010, Linear: 0.003, Quadratic: 0.007}},
		{"through three points, b < 0 taken as 0", gold},
	} {
		var line []figure.XY
		for x := 0.02; x <= 1.0001; x += 0.01 {
			line = append(line, figure.XY{X: 100 * x, Y: 100 * k.curve.Efficiency(x, 1)})
		}
		c.Series = append(c.Series, figure.Series{Name: k.name, Points: line, Colour: figure.Blue + i})
	}
	points := []figure.XY{{X: 10, Y: 81.8}, {X: 25, Y: 90.4}, {X: 50, Y: 93.2}, {X: 75, Y: 93.9}, {X: 100, Y: 93.9}, {X: 20, Y: 87}, {X: 50, Y: 90}, {X: 100, Y: 87}}
	c.Series = append(c.Series, figure.Series{Name: "points", Points: points, Mark: figure.Rings})
	return c
}

func overload() figure.Chart {
	law := power.OverloadAt(60, 1.25)
	var line []figure.XY
	for x := 1.04; x <= 2.0001; x += 0.01 {
		line = append(line, figure.XY{X: 100 * x, Y: law.TripIn(0, x)})
	}
	return figure.Chart{
		Title:    "How long an overload is borne",
		Subtitle: "t = K/(x² − 1) through 60 s at 125 %, cold; rings: derived check values",
		X:        figure.Axis{Label: "Load, % of rating", Min: 100, Max: 200}, Y: figure.Axis{Label: "Time to trip, s", Min: 5, Max: 1000, Log: true},
		Series: []figure.Series{
			{Name: "inverse law", Points: line, Colour: figure.Red},
			{Name: "check values", Points: []figure.XY{{X: 110, Y: 161}, {X: 125, Y: 60}, {X: 150, Y: 27}}, Mark: figure.Rings},
		},
		LegendTop: true,
	}
}

// variations are the published points at which the ITI curve is checked.
func variations() figure.Chart {
	var list []voltage.Variation
	for i, q := range []struct{ share, seconds float64 }{
		{0, 0.015}, {0, 0.025}, {0.7, 0.4}, {0.7, 1}, {0.8, 5}, {0.8, 15}, {1.2, 0.4}, {1.2, 1},
	} {
		start := vtime.Tick(i) * vtime.Minute
		list = append(list, voltage.Variation{
			Start: start, End: start + vtime.Tick(1000*q.seconds), Share: q.share,
			Class: mains.Classify(q.share, q.seconds, 60), Rides: mains.Ride(q.share, q.seconds),
		})
	}
	return figure.ITI("Check points", list, 60)
}

// heat is a block of 2.2 kg that 10 W heat for 10 min, and one that they heat
// for ever.
func heat() figure.Chart {
	node := thermal.Node{HeatJPerK: 1980, CoolWPerK: 0.5}
	var brief, steady []figure.XY
	a, b := 25.0, 25.0
	for t := 0; t <= 300; t++ {
		brief, steady = append(brief, figure.XY{X: float64(t), Y: a}), append(steady, figure.XY{X: float64(t), Y: b})
		watts := 10.0
		if t >= 10 {
			watts = 0
		}
		a, b = node.Step(a, watts, 25, 60), node.Step(b, 10, 25, 60)
	}
	return figure.Chart{
		Title:    "A block of 2.2 kg heated by 10 W",
		Subtitle: "1980 J/K, 0.5 W/K, surroundings at 25 °C; ring: 2.81 K after 10 min (derived)",
		X:        figure.Axis{Label: "Time, min", Min: 0, Max: 300}, Y: figure.Axis{Label: "Temperature, °C", Min: 24, Max: 46},
		Series: []figure.Series{
			{Name: "for ever", Points: steady, Colour: figure.Red},
			{Name: "for 10 minutes", Points: brief, Colour: figure.Blue},
			{Points: []figure.XY{{X: 10, Y: 27.81}}, Mark: figure.Rings},
		},
		LegendTop: true, LegendLeft: true,
	}
}
