package battery_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/phys/battery"
)

// packOf is n strings of cells like p, one of them with weak cells.
func packOf(p battery.Params, cells, sound, weak int, capacity, resistance float64) battery.Pack {
	return battery.Pack{Cells: cells, Sound: sound, Cell: p, Weak: weak, WeakCell: p.Scaled(capacity, resistance)}
}

// slowPack is the obvious second implementation: every cell of the pack on its
// own, strings in parallel by halving on the terminal voltage, Euler steps of dt
// hours, until the mean cell voltage is at or below cutoff. It gives up with NaN
// where a string beside a sound one has bare cells: there it would chatter.
func slowPack(p battery.Pack, g, watts, cutoff, dt float64) float64 {
	type cell struct {
		p *battery.Params
		q float64
		u [battery.MaxModes]float64

		bare bool // it gave all that came to the plates
	}
	fresh := func(p *battery.Params) cell { return cell{p: p, q: p.C * (1 - g)} }
	emf := func(c *cell) float64 {
		g := 1 - c.q/c.p.C
		y := g
		for m := range c.p.N {
			y -= c.p.Modes[m].A * c.u[m] / c.p.C
		}
		if c.bare || y <= 1e-9 || g <= 1e-9 {
			return -1
		}
		return max(c.p.E0-c.p.Es*(1-g)+c.p.B*math.Log(y/g), -1)
	}
	sound, rest, weak := fresh(&p.Cell), fresh(&p.Cell), fresh(&p.WeakCell)
	n, w := float64(p.Sound), float64(p.Weak)
	all := float64(p.Cells)
	last := math.Inf(1)
	for t := 0.0; t < 200; t += dt {
		eS, rS := all*emf(&sound), all*p.Cell.R
		eF, rF := (all-w)*emf(&rest)+w*emf(&weak), (all-w)*p.Cell.R+w*p.WeakCell.R
		amps := func(v float64) (s, f float64) {
			if p.Sound > 0 {
				s = (eS - v) / rS
			}
			if p.Weak > 0 {
				f = (eF - v) / rF
				if emf(&weak) == -1 || emf(&rest) == -1 {
					f = max(f, 0)
				}
			}
			return s, f
		}
		lo, hi := cutoff*all/2, max(eS, eF) // the stable one of the two solutions is above
		for range 36 {
			v := (lo + hi) / 2
			if s, f := amps(v); (n*s+f)*v > watts {
				lo = v
			} else {
				hi = v
			}
		}
		v := (lo + hi) / 2
		s, f := amps(v)
		if v/all <= cutoff {
			if math.IsInf(last, 1) {
				return 0
			}
			return t - dt*(cutoff-v/all)/(last-v/all)
		}
		last = v / all
		for _, c := range []struct {
			cell *cell
			amps float64
		}{{&sound, s}, {&rest, f}, {&weak, f}} {
			old := *c.cell
			move := func(amps float64) {
				c.cell.q = max(old.q+amps*dt, 0)
				for m := range c.cell.p.N {
					c.cell.u[m] = old.u[m] + (amps-c.cell.p.Modes[m].Lambda*old.u[m])*dt
				}
			}
			move(c.amps)
			if c.cell.bare = false; c.amps > 0 && emf(c.cell) == -1 { // it gives what comes to the plates at most
				low, high := 0.0, c.amps
				for range 50 {
					mid := (low + high) / 2
					if move(mid); emf(c.cell) > -1 {
						low = mid
					} else {
						high = mid
					}
				}
				move(low)
				c.cell.bare = true
				if p.Sound > 0 {
					return math.NaN()
				}
			}
		}
	}
	return 200
}

func TestPackAgreesWithTinySteps(t *testing.T) {
	agree := func(t *rapid.T, sound int, leastRate, tolerance float64) {
		p := cell(t)
		weak := rapid.IntRange(1, 6).Draw(t, "weak")
		pack := packOf(p, 36, sound, weak, rapid.Float64Range(0.3, 1).Draw(t, "capacity"), rapid.Float64Range(1, 4).Draw(t, "resistance"))
		watts := p.C * rapid.Float64Range(leastRate, 3).Draw(t, "rate") * 36 * float64(sound+1)
		fast := pack.Runtime(pack.AtCharge(1), watts, 1.7)
		if fast < 1e-2 {
			t.Skip("over at once")
		}
		coarse, fine := slowPack(pack, 1, watts, 1.7, fast/1000), slowPack(pack, 1, watts, 1.7, fast/2000)
		if !(math.Abs(coarse/fine-1) <= tolerance) {
			t.Skip("no tiny steps: the sound string holds bare cells up, or they are not tiny enough")
		}
		want := 2*fine - coarse
		if math.Abs(fast/want-1) > tolerance {
			t.Fatalf("%v h, tiny steps say %v h (%+.3f %%)", fast, want, 100*(fast/want-1))
		}
	}
	t.Run("one string", rapid.MakeCheck(func(t *rapid.T) { agree(t, 0, 0.1, 5e-3) }))
	t.Run("beside a sound one", rapid.MakeCheck(func(t *rapid.T) { agree(t, 1, 0.5, 2.5e-2) }))
}

// A pack whose weak cells are as good as the others is a pack without them.
func TestEqualCellsAreAnEvenPack(t *testing.T) {
	p := ref()
	even := packOf(p, 36, 2, 0, 1, 1)
	same := packOf(p, 36, 1, 6, 1, 1)
	a, b := even.AtCharge(0.9), same.AtCharge(0.9)
	st := p.NewStep(1.0 / 360)
	for i := range 80 {
		nextA, readA, okA := even.ConstantPower(&st, a, 12*72)
		nextB, readB, okB := same.ConstantPower(&st, b, 12*72)
		if okA != okB || math.Abs(readA.CellVolts-readB.CellVolts) > 1e-4 || math.Abs(readA.Amps-readB.Amps) > 1e-3*readA.Amps {
			t.Fatalf("step %d: %v %v, %v %v", i, readA, okA, readB, okB)
		}
		if !okA {
			break
		}
		a, b = nextA, nextB
	}
	if ga, gb := even.Charge(&a), same.Charge(&b); math.Abs(ga-gb) > 1e-4 || ga > 0.9 {
		t.Errorf("charge %v and %v", ga, gb)
	}
	if wa, wb := even.StoredWh(&a), same.StoredWh(&b); math.Abs(wa-wb) > 1e-4*wa {
		t.Errorf("stored %v and %v Wh", wa, wb)
	}
	h, k := even.Runtime(a, 600, 1.7), same.Runtime(b, 600, 1.7)
	if math.Abs(h/k-1) > 2e-3 || h < 0.1 {
		t.Errorf("runtime %v and %v h", h, k)
	}
	c := typicalCharger(p.C)
	a, readA := even.Charged(&c, &st, a)
	b, readB := same.Charged(&c, &st, b)
	if math.Abs(readA.CellVolts-readB.CellVolts) > 1e-3 || math.Abs(readA.Amps-readB.Amps) > 1e-3 || readA.Amps >= 0 {
		t.Errorf("charging %v and %v", readA, readB)
	}
	if math.Abs(a.Sound.Q-b.Weak.Q) > 1e-3 || a.Sound.Q <= 0 {
		t.Errorf("after charging %v and %v", a.Sound.Q, b.Weak.Q)
	}
}

// One block of 30 % in a string of six: the string ends long before the rest of
// it is empty, when that block reverses, and takes the whole string with it.
func TestWeakBlockEndsTheString(t *testing.T) {
	p := ref()
	sound, weak := packOf(p, 36, 1, 0, 1, 1), packOf(p, 36, 0, 6, 0.3, 1.5)
	const watts = 12 * 36
	good, bad := sound.Runtime(sound.AtCharge(1), watts, 1.7), weak.Runtime(weak.AtCharge(1), watts, 1.7)
	block := p.Scaled(0.3, 1.5)
	alone := block.Runtime(block.AtCharge(1), 12, 1.0)
	if bad > 0.5*good || math.Abs(bad/alone-1) > 0.2 {
		t.Errorf("%.3f h with the weak block, %.3f h without, %.3f h of such a block alone to 1 V", bad, good, alone)
	}
	s, st := weak.AtCharge(1), p.NewStep(1.0/3600)
	low := 99.0
	for range 3600 {
		next, r, ok := weak.ConstantPower(&st, s, watts)
		if !ok || r.CellVolts <= 1.2 {
			break
		}
		s, low = next, r.CellVolts
	}
	if low > 1.5 { // five sound blocks less one reversed by 1 V a cell and more on its resistance
		t.Errorf("the string stood at %v V a cell at last", low)
	}
	if left := p.Charge(s.Rest); left < 0.5 {
		t.Errorf("the other blocks have %v left", left)
	}
}

// With more strings beside it, a weak string takes less of the load.
func TestWeakStringUnloads(t *testing.T) {
	p := ref()
	pack := packOf(p, 36, 1, 6, 0.3, 1.5)
	s, st := pack.AtCharge(1), p.NewStep(1.0/360)
	for range 60 {
		next, _, ok := pack.ConstantPower(&st, s, 24*36)
		if !ok {
			t.Fatal("it does not carry the load")
		}
		s = next
	}
	if s.Rest.Q >= 0.9*s.Sound.Q || s.Rest.Q != s.Weak.Q && s.Weak.Q > s.Rest.Q {
		t.Errorf("drawn from the sound string %v Ah, from the other %v Ah, from its weak block %v Ah", s.Sound.Q, s.Rest.Q, s.Weak.Q)
	}
}

func TestOpenPack(t *testing.T) {
	p := ref()
	pack := packOf(p, 36, 0, 0, 1, 1)
	st := p.NewStep(1.0 / 60)
	s := pack.AtCharge(1)
	if _, r, ok := pack.ConstantPower(&st, s, 1); ok || r.CellVolts != 0 {
		t.Errorf("an open pack carries 1 W at %v V", r.CellVolts)
	}
	c := typicalCharger(p.C)
	if _, r := pack.Charged(&c, &st, s); r.Amps != 0 || r.CellVolts != c.SetV {
		t.Errorf("on the charger it reads %+v", r)
	}
	if pack.Runtime(s, 1, 1.7) != 0 || pack.Live() != 0 || pack.StoredWh(&s) != 0 || pack.Charge(&s) != 0 {
		t.Error("an open pack holds something")
	}
}

// Whatever a pack went through, nothing is NaN, energy is conserved to 0.1 %, and
// the charge stays within its bounds.
func TestPackKeepsItsBooks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := cell(t)
		pack := packOf(p, rapid.IntRange(6, 60).Draw(t, "cells"), rapid.IntRange(0, 3).Draw(t, "sound"),
			rapid.IntRange(0, 6).Draw(t, "weak"), rapid.Float64Range(0.05, 1).Draw(t, "capacity"), rapid.Float64Range(1, 10).Draw(t, "resistance"))
		if err := pack.Validate(); err != nil {
			t.Fatal(err)
		}
		s := pack.AtCharge(rapid.Float64Range(0, 1).Draw(t, "g"))
		start := pack.StoredWh(&s)
		released, turnover := 0.0, 1e-6*p.C
		c := typicalCharger(p.C)
		for range rapid.IntRange(1, 8).Draw(t, "pieces") {
			st := p.NewStep(rapid.Float64Range(1e-5, 0.02).Draw(t, "hours"))
			kind := rapid.IntRange(0, 2).Draw(t, "kind")
			watts := p.C * rapid.Float64Range(0, 8).Draw(t, "rate") * float64(pack.Cells)
			for range 30 {
				next, r := s, battery.Reading{}
				switch kind {
				case 0:
					next, r, _ = pack.ConstantPower(&st, s, watts)
				case 1:
					next, r = pack.Charged(&c, &st, s)
				case 2:
					next, r = pack.Rest(&st, s, 1e-3)
				}
				finite(t, "reading", r.CellVolts, r.Amps)
				gone := pack.ReleasedWh(&s, &next)
				released, turnover = released+gone, turnover+math.Abs(gone)
				s = next
				if g := pack.Charge(&s); g < 0 || g > 1 || math.IsNaN(g) {
					t.Fatalf("charge %v", g)
				}
			}
		}
		if d := start - pack.StoredWh(&s) - released; math.Abs(d) > 1e-3*turnover+1e-9 {
			t.Fatalf("stored energy fell by %v Wh, %v Wh were released", start-pack.StoredWh(&s), released)
		}
		finite(t, "runtime", pack.Runtime(s, p.C, 1.7))
	})
}

// In one string only: beside others a worse block may last longer, for they take
// load off it.
func TestPackMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := cell(t)
		share := rapid.Float64Range(0.2, 1).Draw(t, "capacity")
		watts := p.C * rapid.Float64Range(0.2, 2).Draw(t, "rate") * 36
		runtime := func(capacity, resistance, watts float64) float64 {
			pack := packOf(p, 36, 0, 6, capacity, resistance)
			return pack.Runtime(pack.AtCharge(1), watts, 1.7)
		}
		base := runtime(share, 1.5, watts)
		for name, less := range map[string]float64{
			"load": runtime(share, 1.5, 1.1*watts), "capacity": runtime(0.8*share, 1.5, watts), "resistance": runtime(share, 3, watts),
		} {
			if less > base*(1+2e-3)+1e-6 {
				t.Fatalf("worse %s lasts %v h instead of %v h", name, less, base)
			}
		}
	})
}

func BenchmarkWeakPack(b *testing.B) {
	pack := packOf(ref(), 36, 1, 6, 0.5, 1.5)
	st := pack.Cell.NewStep(1.0 / 3600)
	full := pack.AtCharge(1)
	b.Run("step", func(b *testing.B) {
		b.ReportAllocs()
		s := full
		for b.Loop() {
			var ok bool
			if s, _, ok = pack.ConstantPower(&st, s, 24*36); !ok {
				s = full
			}
		}
	})
	b.Run("runtime", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if pack.Runtime(full, 24*36, 1.7) == 0 {
				b.Fatal("no runtime")
			}
		}
	})
}
