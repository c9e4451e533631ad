package fit

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/phys/battery"
)

// discharged is a discharge of p at amps to endV, in steps of dt hours, with what noise
// does to each voltage.
func discharged(p battery.Params, amps, endV, dt float64, noise func() float64) []Sample {
	var out []Sample
	s := p.AtCharge(1)
	st := p.NewStep(dt)
	for n := 0; ; n++ {
		v := p.Volts(s, amps)
		if v < endV || n > 5000 {
			return out
		}
		out = append(out, Sample{Hours: float64(n) * dt, Volts: v + noise(), Amps: amps})
		s = st.ConstantCurrent(&p, s, amps)
	}
}

// TestRecordedRecovers: discharges of a cell whose capacity, resistance and temperature
// are known, measured with noise, give them back: of discharges of ten minutes and more
// capacity within 3 %, of shorter ones within 6 %, resistance within 15 %, and as a rule
// within twice the deviation that is told.
func TestRecordedRecovers(t *testing.T) {
	base := battery.FromC20(9)
	inside, all := 0, 0
	for seed := range uint64(60) {
		dice := rng.Stream(seed, "discharge")
		between := func(low, high float64) float64 { return low + (high-low)*dice.Float64() }
		capacity, resistance, temp := between(0.6, 1.1), between(0.8, 2.5), between(10, 35)
		p := base.Scaled(capacity, resistance)
		p = p.Scaled(battery.CapacityFactor(temp), battery.ResistanceFactor(temp))
		amps := between(4, 14)
		noise := func() float64 { return 0.005 * (dice.Float64() + dice.Float64() + dice.Float64() - 1.5) * 2 }
		samples := discharged(p, amps, 1.7, 10.0/3600, noise)
		h, err := Recorded(samples, base, 1, temp)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		c, r := h.Capacity.Value/capacity-1, h.Resistance.Value/resistance-1
		bound := 0.03
		if len(samples) < 60 {
			bound = 0.06
		}
		if math.Abs(c) > bound || math.Abs(r) > 0.15 {
			t.Errorf("seed %d, %d samples at %.1f A: capacity %.3f for %.3f, resistance %.3f for %.3f; %+v", seed, len(samples), amps,
				h.Capacity.Value, capacity, h.Resistance.Value, resistance, h.Capacity)
		}
		for _, g := range []struct{ guess, truth float64 }{
			{math.Abs(h.Capacity.Value-capacity) / h.Capacity.Deviation, 0}, {math.Abs(h.Resistance.Value-resistance) / h.Resistance.Deviation, 0},
		} {
			all++
			if g.guess <= 2 {
				inside++
			}
		}
	}
	if share := float64(inside) / float64(all); share < 0.9 {
		t.Errorf("%.0f %% within twice the deviation, want 90 %%", 100*share)
	}
}

// TestRecordedShort: a discharge that ends early says less of the capacity, and says so.
func TestRecordedShort(t *testing.T) {
	base := battery.FromC20(9)
	p := base.Scaled(0.8, 1.5)
	quiet := func() float64 { return 0 }
	whole := discharged(p, 8, 1.7, 10.0/3600, quiet)
	all, err := Recorded(whole, base, 1, 25)
	if err != nil {
		t.Fatal(err)
	}
	short, err := Recorded(whole[:len(whole)/8], base, 1, 25)
	if err != nil {
		t.Fatal(err)
	}
	if short.Capacity.Deviation < 3*all.Capacity.Deviation || short.Drawn > 0.3*all.Drawn {
		t.Errorf("deviation %.4f of an eighth, %.4f of the whole; drawn %.2f and %.2f", short.Capacity.Deviation, all.Capacity.Deviation, short.Drawn, all.Drawn)
	}
}

// TestRecordedPublished: the discharge of a published block (testdata/tables, with its
// source) against the typical cell of its 20-hour capacity. The cell that comes out
// carries what the table says at that current, and at half and twice of it.
func TestRecordedPublished(t *testing.T) {
	for _, c := range []struct {
		file    string
		c20     float64
		minutes float64
	}{{"usf12-100a_12v100ah.csv", 111.6, 60}, {"upbh150ft_12v150ah.csv", 161.4, 60}, {"usl12-7_12v7.2ah.csv", 7.72, 45}} {
		f, err := os.Open("../../../../testdata/tables/" + c.file)
		if err != nil {
			t.Fatal(err)
		}
		table, err := Read(f, 6)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		rows := Of(table.Rows, ConstantCurrent, 1.6, 1.85)
		at, _ := nearest(rows, 1.75, c.minutes)
		samples := tableDischarge(rows, at.Load)
		if len(samples) < 5 {
			t.Fatalf("%s: %d points at %g A", c.file, len(samples), at.Load)
		}
		base := battery.FromC20(c.c20)
		h, err := Recorded(samples, base, 1, 25)
		if err != nil {
			t.Fatal(err)
		}
		for _, minutes := range []float64{c.minutes / 2, c.minutes, c.minutes * 2} {
			r, _ := nearest(rows, 1.75, minutes)
			got := Check(&h.Cell, []Row{r})[0]
			bound := 0.15
			if r == at {
				bound = 0.04
			}
			t.Logf("%s: capacity %.3f +- %.3f, resistance %.2f +- %.2f: %g min at %g A, model %.1f (%+.1f %%)", c.file,
				h.Capacity.Value, h.Capacity.Deviation, h.Resistance.Value, h.Resistance.Deviation, r.Minutes, r.Load, got.ModelMinutes, 100*got.Error)
			if math.Abs(got.Error) > bound {
				t.Errorf("%s: %g min at %g A, the fitted cell says %.1f", c.file, r.Minutes, r.Load, got.ModelMinutes)
			}
		}
	}
}

// tableDischarge is when a table's block at amps comes to each end voltage.
func tableDischarge(rows []Row, amps float64) (samples []Sample) {
	for _, endV := range []float64{1.85, 1.8, 1.75, 1.7, 1.67, 1.6} {
		column := slices.DeleteFunc(slices.Clone(rows), func(r Row) bool { return math.Abs(r.EndV-endV) > 0.004 })
		slices.SortFunc(column, func(a, b Row) int { return int(math.Copysign(1, a.Minutes-b.Minutes)) })
		for i := 1; i < len(column); i++ {
			a, b := column[i-1], column[i]
			if b.Load <= amps && amps <= a.Load && a.Load > b.Load {
				part := math.Log(a.Load/amps) / math.Log(a.Load/b.Load)
				minutes := a.Minutes * math.Pow(b.Minutes/a.Minutes, part)
				samples = append(samples, Sample{Hours: minutes / 60, Volts: column[i].EndV, Amps: amps})
				break
			}
		}
	}
	return samples
}

// TestMomentsRefuse: what is wrong is said with its line.
func TestMomentsRefuse(t *testing.T) {
	const head = "# a discharge\nseconds,volts,amps,temp_c\n"
	for _, c := range []struct{ text, want string }{
		{"", "there are no rows"}, {"time,v\n", "line 1: want the column names"}, {head, "there are no rows"},
		{head + "0,75\n", "line 3: 2 columns, want 4"}, {head + "0,75,x,25\n", `line 3: amps "x"`}, {head + "0,75,NaN,25\n", `amps "NaN"`},
		{head + "0,75,5,25\n0,75,5,25\n", "line 4: seconds do not rise"}, {head + "0,75,5,200\n", "temp_c"}, {head + strings.Repeat("1", 5000), "is longer than"},
	} {
		if _, err := ReadMoments(strings.NewReader(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%.40q: %v, want %q", c.text, err, c.want)
		}
	}
}

// FuzzMoments: nothing makes the reader or the search panic, and figures are finite.
func FuzzMoments(f *testing.F) {
	f.Add("seconds,volts,amps\n0,75,9\n60,74,9\n120,73,9\n180,72,9\n240,70,9\n300,66,9\n")
	f.Add("seconds,volts,watts,temp_c\n0,75,700,20\n60,74,700,20\n120,73,700,21\n180,1,99999,21\n240,2000,0,21\n")
	base := battery.FromC20(9)
	f.Fuzz(func(t *testing.T, text string) {
		list, err := ReadMoments(strings.NewReader(text))
		if err != nil || len(list) > 200 {
			return
		}
		h, err := Recorded(Samples(list, 36, 1), base, 1, 25)
		if err == nil {
			for _, x := range []float64{h.Capacity.Value, h.Capacity.Deviation, h.Resistance.Value, h.Resistance.Deviation, h.NoiseV} {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Fatalf("%+v of %q", h, text)
				}
			}
		}
	})
}
