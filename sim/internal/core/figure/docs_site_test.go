package figure_test

import (
	"os"
	"strconv"
	"strings"
	"testing"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/figure"
	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/mains"
)

// sampled plays a scenario and looks at it every so often.
func sampled(t testing.TB, src string, from, to, every vtime.Tick, see ...func(*snap.Site) float64) [][]figure.XY {
	t.Helper()
	r := playtest.Start(t, src)
	lines := make([][]figure.XY, len(see))
	for at := from; at <= to; at += every {
		r.To(at)
		for i := range see {
			lines[i] = append(lines[i], figure.XY{X: (at - from).Seconds() / 60, Y: see[i](r.Site)})
		}
	}
	return lines
}

// windows is what the output has of an input, by class; where the battery feeds it
// there is no line.
func windows(t testing.TB) figure.Chart {
	c := figure.Chart{
		Title:    "What the output has of its input",
		Subtitle: "defaults at 230 V; where a line ends the battery takes over",
		X:        figure.Axis{Label: "Input, V", Min: 140, Max: 300}, Y: figure.Axis{Label: "Output, V", Min: 180, Max: 270},
		LegendLeft: true, LegendTop: true,
	}
	for i, class := range []struct{ topology, name string }{{"VI", "VI: line-interactive"}, {"VFD", "VFD: standby"}, {"VFI", "VFI: double conversion"}} {
		r := playtest.Start(t, "title = 't'\nrun_for = '24h'\n[ups]\ntopology = '"+class.topology+"'\n")
		name := class.name
		for _, part := range [][]figure.XY{swept(r, 230, 300, 0.5), swept(r, 230, 140, -0.5)} {
			for _, line := range stretches(part) {
				c.Series = append(c.Series, figure.Series{Name: name, Points: line, Colour: figure.Blue + i, Dashed: class.topology == "VFD"})
				name = ""
			}
		}
	}
	return c
}

// swept is the output at inputs from one voltage to another; 0 on battery.
func swept(r *playtest.Run, from, to, by float64) (line []figure.XY) {
	r.Inject("source = 'normal'").To(r.Engine.Now() + vtime.Minute)
	for v := from; (v-to)*by <= 0; v += by {
		r.Inject("source = {volts = " + strconv.FormatFloat(v, 'f', 1, 64) + "}")
		out := r.Site.Output.Lines[0].Volts
		if r.Site.UPS.Source == snap.SourceBattery {
			out = 0
		}
		line = append(line, figure.XY{X: v, Y: out})
	}
	return line
}

// stretches are the parts of a line without a jump.
func stretches(line []figure.XY) (parts [][]figure.XY) {
	var part []figure.XY
	for i, q := range line {
		if len(part) > 0 && (q.Y == 0 || q.Y > line[i-1].Y+8 || q.Y < line[i-1].Y-8) {
			parts, part = append(parts, part), nil
		}
		if q.Y > 0 {
			part = append(part, q)
		}
	}
	if len(part) > 0 {
		parts = append(parts, part)
	}
	return parts
}

// step is a generator that is given a load at 2 s.
func step() figure.Chart {
	g := mains.Generator{Volts: 230, Hz: 50, PeriodS: 5, DroopHz: 1, StepHz: 4, StepV: 46, RecoverS: 1}
	c := figure.Chart{
		Title:    "A generator under a step of load",
		Subtitle: "defaults: droop 1 Hz, step 4 Hz, time constant 1 s; dashed: it trips below for 5 s",
		X:        figure.Axis{Label: "Time, s", Min: 0, Max: 12}, Y: figure.Axis{Label: "Frequency, Hz", Min: 44, Max: 53},
		LegendTop: true,
	}
	for i, share := range []float64{0.25, 0.5, 1, 1.25} {
		var b mains.Burden
		var line []figure.XY
		for ms := 0; ms <= 12000; ms += 20 {
			_, hz := g.At(100, b)
			line = append(line, figure.XY{X: float64(ms) / 1000, Y: hz})
			load := 0.0
			if ms >= 2000 {
				load = share
			}
			b = g.Bear(b, load, 0.020)
		}
		name := map[float64]string{0.25: "a quarter of its rating", 0.5: "half", 1: "all", 1.25: "125 %"}[share]
		c.Series = append(c.Series, figure.Series{Name: name, Points: line, Colour: figure.Family + 2*i + 1})
	}
	c.Series = append(c.Series, figure.Series{Points: []figure.XY{{X: 0, Y: 45}, {X: 12, Y: 45}}, Colour: figure.Grey, Dashed: true, Thin: true})
	return c
}

// estimates is what a unit shows of the runtime of an old battery, and what there is.
func estimates(t testing.TB) figure.Chart {
	const src = "title = 't'\nrun_for = '2h'\n[battery]\nage_years = 10\nestimate = {filter = '20s', quantum = '1m'}\n[card]\naddress = '192.0.2.10/24'\n" +
		"[[host]]\nname = 'db'\ndraw_w = 600\n[[at]]\ntime = '1m'\nsource = 'lost'\n[[at]]\ntime = '7m'\nhost = 'db'\ndraw_w = 900\n[[at]]\ntime = '9m'\nhost = 'db'\ndraw_w = 600\n"
	shown := func(s *snap.Site) float64 { return s.Battery.RuntimeS / 60 }
	truth := func(s *snap.Site) float64 { return s.TrueRuntimeS / 60 }
	new := sampled(t, src, vtime.Minute, 19*vtime.Minute, 5*vtime.Second, shown, truth)
	learnt := sampled(t, strings.Replace(src, "[battery]", "[battery]\nlearned = true", 1), vtime.Minute, 19*vtime.Minute, 5*vtime.Second, shown)
	return figure.Chart{
		Title:    "The runtime that a unit shows",
		Subtitle: "block of 10 years at 600 W, 900 W from the 6th to the 8th minute; filter 20 s, steps of 1 min",
		X:        figure.Axis{Label: "Time on battery, min", Min: 0, Max: 18}, Y: figure.Axis{Label: "Runtime, min", Min: 0, Max: 30},
		Series: []figure.Series{
			{Name: "shown, taking the cells for new", Points: new[0], Colour: figure.Red},
			{Name: "shown, after a calibration", Points: learnt[0], Colour: figure.Blue},
			{Name: "true", Points: new[1], Colour: figure.Black, Dashed: true},
		},
		LegendTop: true,
	}
}

// failure is the room of the shipped scenario whose cooling fails.
func failure(t testing.TB) figure.Chart {
	src, err := os.ReadFile(checks.Path(t, "scenarios", "incidents", "36-cooling-fails.toml"))
	if err != nil {
		t.Fatal(err)
	}
	lines := sampled(t, string(src), 0, 90*vtime.Minute, 20*vtime.Second,
		func(s *snap.Site) float64 { return s.Room.TempC },
		func(s *snap.Site) float64 { return s.Probes.List[0].TempC },
		func(s *snap.Site) float64 { return s.UnitC },
		func(s *snap.Site) float64 { return s.Battery.TempC })
	c := figure.Chart{
		Title:    "A room whose cooling fails at 10 min",
		Subtitle: "scenario cooling-fails: 2.2 kW in 40 m³; at 36 °C two of three machines are stopped",
		X:        figure.Axis{Label: "Time, min", Min: 0, Max: 90}, Y: figure.Axis{Label: "Temperature, °C", Min: 20, Max: 50},
		LegendTop: true,
	}
	for i, name := range []string{"room", "probe", "inside of the unit", "battery"} {
		c.Series = append(c.Series, figure.Series{Name: name, Points: lines[i], Colour: figure.Blue + i})
	}
	return c
}
