package budget

import (
	"math"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/battery"
	"ridethrough/sim/internal/phys/num"
)

// drain is a battery and what the unit's controller takes it for.
type drain struct {
	bat      *plan.Battery
	pack     battery.Pack
	believed battery.Params
	cutoffV  float64
	shut     bool // the cells' own management lets nothing out at this temperature

	stride vtime.Tick   // the longest step
	step   battery.Step // of that length
}

// charge is what changes of it.
type charge struct {
	pack     battery.PackState
	belief   battery.State
	loadW    float64 // as the controller sees it
	runtimeS float64 // as it was last worked out, less the time since
	next     vtime.Tick
}

// How the controller works its estimate out anew is part of package device; these
// are its figures.
const (
	estimateEvery = 30 * vtime.Second
	estimateSoon  = 5 * vtime.Second
	depletedS     = 1
)

func newDrain(bat *plan.Battery) *drain {
	d := &drain{bat: bat, pack: bat.Pack(bat.AmbientC, 0), believed: bat.Believed(), cutoffV: bat.CutoffV, stride: vtime.Second}
	if m := bat.Management; m != nil {
		d.cutoffV = max(d.cutoffV, m.LowV)
		d.shut = bat.AmbientC <= m.DischargeMinC || bat.AmbientC >= m.DischargeMaxC
	}
	d.step = d.pack.Cell.NewStep(d.stride.Hours())
	return d
}

// longSteps cost a few milliseconds of a runtime, more where strings differ: see
// [drain.unsure].
const longSteps = 5 * vtime.Second

// nearly is by how much the same outage in the engine may come a little otherwise, for
// its steps lie otherwise: a millisecond or two have been found.
const nearly = 10 * vtime.Millisecond

// unsure is by how much the battery's end at about that tick may be off for that
// reason: by a millionth of a runtime of hours besides. Where strings differ it hangs on
// the instant at which a weak block gives out: up to 0.01 % have been found, and 0.06 %
// in long steps.
func (d *drain) unsure(at vtime.Tick) vtime.Tick {
	switch {
	case d.pack.Weak == 0 || d.pack.Sound == 0:
		return nearly + at/250_000
	case d.stride >= longSteps:
		return nearly + at/1000
	}
	return nearly + at/5000
}

// striding is d in steps of that length at most.
func (d *drain) striding(stride vtime.Tick) *drain {
	if d.stride >= stride {
		return d
	}
	c := *d
	c.stride, c.step = stride, d.pack.Cell.NewStep(stride.Hours())
	return &c
}

// rested is the battery after a long rest at its charge, with a controller that knows
// of it and of the load.
func (d *drain) rested(loadW float64) charge {
	share := d.bat.ChargePct / 100
	return charge{pack: d.pack.AtCharge(share), belief: d.believed.AtCharge(share), loadW: loadW}
}

// after is c after dt at watts from the battery and a load of loadW; false if that
// ends the battery.
func (d *drain) after(c *charge, watts, loadW float64, dt vtime.Tick) (next charge, ok bool) {
	step := &d.step
	if dt != d.stride {
		s := d.pack.Cell.NewStep(dt.Hours())
		step = &s
	}
	next = *c
	state, r, ok := d.pack.ConstantPower(step, c.pack, watts)
	if !ok || d.shut || r.CellVolts <= d.cutoffV || d.tooMuch(r.Amps) {
		return next, false
	}
	next.pack = state
	counted := d.pack.DrawnAh(&c.pack, &state) / step.Hours() / float64(d.bat.Strings)
	next.belief = step.ConstantCurrent(&d.believed, c.belief, float64(counted*(1+d.bat.Estimate.GainPct/100)))
	next.belief.Q = min(next.belief.Q, d.believed.C)
	next.loadW = d.seen(c.loadW, loadW, dt)
	next.runtimeS = max(0, c.runtimeS-dt.Seconds())
	return next, true
}

// tooMuch says whether the cells' own management opens at that current.
func (d *drain) tooMuch(amps float64) bool {
	m := d.bat.Management
	return m != nil && amps/float64(d.bat.Strings) > m.DischargeA
}

// seen is the load as the controller's filter has it dt later.
func (d *drain) seen(was, loadW float64, dt vtime.Tick) float64 {
	filter := d.bat.Estimate.Filter
	if filter <= 0 {
		return loadW
	}
	return loadW + float64((was-loadW)*num.Exp(-dt.Seconds()/filter.Seconds()))
}

// estimate has the controller work its runtime out anew at now.
func (d *drain) estimate(c *charge, now vtime.Tick, f *facts, loadW float64) {
	seen := c.loadW
	if d.bat.Estimate.Filter <= 0 {
		seen = loadW
	}
	cells := float64(d.bat.Cells * d.bat.Strings)
	c.runtimeS = d.believed.Runtime(c.belief, f.batteryW(seen)/cells, d.bat.CutoffV) * 3600
	c.next = now + estimateEvery
	if math.Abs(seen-loadW) > float64(0.01*loadW)+1 {
		c.next = now + estimateSoon
	}
}

// shownS is the runtime as the unit shows it, in seconds.
func (d *drain) shownS(c *charge) float64 {
	q := d.bat.Estimate.Quantum.Seconds()
	if q <= 0 {
		return c.runtimeS
	}
	return float64(q * math.Floor(c.runtimeS/q))
}

// shownPct is the charge as the unit shows it, in percent.
func (d *drain) shownPct(c *charge) float64 { return 100 * d.believed.Charge(c.belief) }

// lasts is for how long the battery goes on at watts.
func (d *drain) lasts(c *charge, watts float64) vtime.Tick {
	if d.shut {
		return 0
	}
	return vtime.Tick(d.pack.Runtime(c.pack, watts, d.cutoffV) * float64(vtime.Hour))
}
