package battery_test

import (
	"math"
	"testing"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/phys/battery"
)

// stretch is one piece of a load profile: amps until a time in hours since the
// start of the profile.
type stretch struct{ amps, until float64 }

var forever = math.Inf(1)

// lifetime is when a profile empties the plates of a full cell, in hours. A
// profile repeats after its last stretch. Every stretch is walked in short
// exact steps, so that no crossing inside it is missed.
func lifetime(t *testing.T, p battery.Params, profile ...stretch) float64 {
	t.Helper()
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	s := p.AtCharge(1)
	for base := 0.0; ; base += profile[len(profile)-1].until {
		from := 0.0
		for _, piece := range profile {
			for from < piece.until {
				dt := min(piece.until-from, 0.1)
				st := p.NewStep(dt)
				next := st.ConstantCurrent(&p, s, piece.amps)
				if p.Plate(next) <= 0 {
					return base + from + emptied(&p, s, piece.amps, dt)
				}
				s, from = next, from+dt
			}
		}
		if base > 1e4 {
			t.Fatal("the profile never empties the cell")
		}
	}
}

// emptied is when within dt a constant current takes the last plate charge.
func emptied(p *battery.Params, s battery.State, amps, dt float64) float64 {
	lo, hi := 0.0, dt
	for range 60 {
		mid := (lo + hi) / 2
		st := p.NewStep(mid)
		if p.Plate(st.ConstantCurrent(p, s, amps)) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// square is amps for the first half of a period given in seconds.
func square(amps, seconds float64) []stretch {
	return []stretch{{amps, seconds / 2 / 3600}, {0, seconds / 3600}}
}

// minutes makes pieces of (amps, until in minutes) pairs.
func minutes(pairs ...float64) []stretch {
	var pieces []stretch
	for i := 0; i < len(pairs); i += 2 {
		pieces = append(pieces, stretch{pairs[i], pairs[i+1] / 60})
	}
	return pieces
}

func TestKineticLifetimesOfDSN2007(t *testing.T) {
	c := checks.Load(t)
	const valve = 4.5e-5 * 3600 // 1/h
	right := battery.KineticFrom(2, 0.625, valve/(0.625*0.375))
	constant := lifetime(t, right, stretch{0.96, forever}) * 60
	c.Number(t, "KIB-01", constant)
	c.Number(t, "KIB-02", constant)
	fast := lifetime(t, right, square(0.96, 1)...) * 60
	c.Number(t, "KIB-03", fast)
	c.Number(t, "KIB-04", fast)
	slow := lifetime(t, right, square(0.96, 5)...) * 60
	c.Number(t, "KIB-05", slow)
	c.Number(t, "KIB-06", slow)
	wrong := battery.KineticFrom(2, 0.625, valve)
	c.Number(t, "KIB-07", lifetime(t, wrong, stretch{0.96, forever})*60)
}

func TestKineticLifetimesOfDSN2009(t *testing.T) {
	c := checks.Load(t)
	small := battery.KineticFrom(5.5/60, 0.166, 0.122*60)
	large := battery.KineticFrom(11.0/60, 0.166, 0.122*60)
	inf := forever
	for _, row := range []struct {
		id      string
		cell    battery.Params
		profile []stretch
	}{
		{"KIB-08", small, minutes(0.25, inf)},
		{"KIB-09", small, minutes(0.5, inf)},
		{"KIB-10", small, minutes(0.5, 1, 0.25, 2)},
		{"KIB-11", small, minutes(0.25, 1, 0, 2)},
		{"KIB-12", small, minutes(0.5, 1, 0, 2)},
		{"KIB-13", small, minutes(0.5, 1, 0, 2, 0.25, 3, 0, 4)},
		{"KIB-14", small, minutes(0.25, 1, 0, 3)},
		{"KIB-15", small, minutes(0.5, 1, 0, 3)},
		{"KIB-16", large, minutes(0.25, inf)},
		{"KIB-17", large, minutes(0.5, inf)},
		{"KIB-18", large, minutes(0.25, 1, 0, 2)},
		{"KIB-19", large, minutes(0.5, 1, 0, 2)},
		{"KIB-20", large, minutes(0.5, 1, 0, 3)},
	} {
		c.Number(t, row.id, lifetime(t, row.cell, row.profile...)*60)
	}
}

// most is the largest current that a cell sustains for the length of st: the
// plate charge at its end is linear in the current.
func most(p *battery.Params, st battery.Step, s battery.State) float64 {
	at0 := p.Plate(st.ConstantCurrent(p, s, 0))
	at1 := p.Plate(st.ConstantCurrent(p, s, 1))
	return at0 / (at0 - at1)
}

func TestKineticSequenceOfTheReferenceImplementation(t *testing.T) {
	c := checks.Load(t)
	p, ok := battery.KineticFromRatings([3]battery.Rating{{Hours: 1, Ah: 60}, {Hours: 10, Ah: 93}, {Hours: 20, Ah: 100}})
	if !ok {
		t.Fatal("no constant found")
	}
	wellShare := 1 / (1 + p.Modes[0].A)
	c.Number(t, "KIB-21", p.Modes[0].Lambda)
	c.Number(t, "KIB-22", wellShare)
	c.Number(t, "KIB-23", p.C)
	s := p.AtCharge(0.5)
	c.Number(t, "KIB-24", wellShare*p.C*p.Plate(s))

	hour := p.NewStep(1)
	left := func() float64 { return p.C - s.Q }
	s = hour.ConstantCurrent(&p, s, 1.5)
	c.Number(t, "KIB-25", left())
	s = hour.ConstantCurrent(&p, s, 3)
	c.Number(t, "KIB-26", left())
	for _, ids := range [][2]string{{"KIB-27", "KIB-28"}, {"KIB-29", "KIB-30"}} {
		amps := most(&p, hour, s)
		c.Number(t, ids[0], amps)
		s = hour.ConstantCurrent(&p, s, amps)
		c.Number(t, ids[1], left())
	}

	s = p.AtCharge(0.5)
	s = hour.ConstantCurrent(&p, hour.ConstantCurrent(&p, s, 30), -30)
	c.Number(t, "KIB-31", 100*p.Charge(s))
}

func TestDiffusionLifetimesOfISLPED2002(t *testing.T) {
	c := checks.Load(t)
	root := math.Sqrt(60) // min^-0.5 to h^-0.5
	a := battery.Diffusion(35.220/60, 0.637*root)
	b := battery.Diffusion(40.027/60, 0.276*root)
	for id, milliamps := range map[string]float64{"RV-01": 640, "RV-02": 320, "RV-03": 64, "RV-04": 32} {
		c.Number(t, id, lifetime(t, a, stretch{milliamps / 1000, forever})*3600)
	}
	inf := forever
	c10 := minutes(0.3, 0.5, 0.628, 5.5, 0.4947, 10.5, 0.2523, 35.5, 0.2341, 60.5, 0.1379, 85.5, 0.1139, 110.5, 0.2656, inf)
	for _, row := range []struct {
		id      string
		cell    battery.Params
		profile []stretch
	}{
		{"RV-05", a, minutes(0.4947, 31, 0, 41.3, 0.4947, inf)},
		{"RV-06", b, minutes(0.4947, 31, 0, 41.3, 0.4947, inf)},
		{"RV-07", b, minutes(0.4256, 41, 0, 54.6, 0.4256, inf)},
		{"RV-08", a, minutes(0.628, 19.5, 0, 29.9, 0.628, inf)},
		{"RV-09", b, minutes(0.628, 19.5, 0, 29.9, 0.628, inf)},
		{"RV-10", b, minutes(0.628, 19.5, 0, 22.1, 0.628, inf)},
		{"RV-11", b, minutes(0.628, 23.4, 0, 29.9, 0.628, inf)},
		{"RV-12", b, c10},
		{"RV-13", b, minutes(0.2227, 50, 0.2045, 100, 0.1083, 150, 0.0843, 200, 0.2227, inf)},
		{"RV-14", a, minutes(0.4947, 1, 0.628, 2)},
		{"RV-15", b, minutes(0.4947, 1, 0.628, 2)},
	} {
		c.Number(t, row.id, lifetime(t, row.cell, row.profile...)*60)
	}
}
