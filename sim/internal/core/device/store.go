package device

import (
	"math"

	"ridethrough/sim/internal/phys/battery"
)

// store is the battery as it stands in the unit, with its charger.
type store struct {
	of      *design
	pack    *battery.Pack // at the temperature and wear that it was last made for; never changed in place: units share it
	madeC   float64       // that temperature
	worn    float64       // that wear, a share of life
	charger battery.Charger
	tunedC  float64 // temperature that the charger was last set for
	ageing  float64 // wear per hour at that temperature
	leaks   float64 // self-discharge at that temperature, share of capacity per hour
	movedWh float64 // energy stored that came and went with temperature and wear

	healthPct float64 // capacity at 25 C of the worst cell, of the rated one; 0 with no string left
}

// moved is by how many kelvins the temperature, and by which share of life the
// wear, must have changed before the cells are made anew. Capacity and
// resistance then change by some 0.1 %.
const (
	movedK    = 0.2
	movedWear = 0.005
)

// hottest is the temperature above which no rule of ageing and self-discharge holds;
// they then stay as they are there.
const hottest = 80

func newStore(d *design) store {
	s := store{of: d, pack: d.pack, madeC: d.bat.AmbientC}
	s.healthPct = s.health(0)
	s.tune(d.bat.AmbientC)
	return s
}

// make makes the cells for a temperature and a wear, with what units made last.
func (s *store) make(tempC, wear float64, shared *Steps) {
	s.madeC, s.worn = tempC, wear
	s.pack = shared.pack(s.of, tempC, wear)
	s.healthPct = s.health(wear)
}

// tune sets the charger, and how fast the cells age and discharge themselves, for
// a temperature.
func (s *store) tune(tempC float64) {
	s.tunedC = tempC
	live := math.Max(1, float64(s.pack.Live()))
	s.charger = battery.Charger{
		SetV: s.of.bat.FloatAt(tempC), MaxA: s.of.bat.ChargeA / live,
		Efficiency: chargeEfficiency,
		FloatA:     floatPerAh * s.of.bat.CapacityAh,
		Resists:    s.of.bat.Resists(),
	}
	tempC = min(tempC, hottest)
	s.ageing = s.of.bat.Ageing().PerHour(tempC)
	s.leaks = float64(s.of.bat.SelfDischargePct / 3 * s.of.rated.SelfDischarge(tempC) / s.of.rated.C)
}

func (s *store) health(wear float64) float64 {
	if s.pack.Live() == 0 {
		return 0
	}
	share := s.of.bat.Aged(wear).C / s.of.rated.C
	if s.of.bat.Weak != nil {
		share = float64(share * min(s.of.bat.Weak.Capacity, 1))
	}
	return 100 * share
}

// fits says whether the cells are near enough to the temperature and wear of p,
// and tuned whether the charger is.
func (s *store) fits(p *Physics) bool {
	return math.Abs(p.RestC-s.madeC) < movedK && math.Abs(p.Wear-s.worn) < movedWear
}

func (s *store) tuned(p *Physics) bool { return math.Abs(p.TempC-s.tunedC) < movedK }

// follow makes the cells anew for the temperature and wear of p. The shares of
// charge stay, so that energy comes and goes which no current carried. The
// temperature is that without the battery's own heat, for the discharge tables
// that the figures of the cells are from were measured on blocks that warmed up
// too.
func (s *store) follow(p *Physics, shared *Steps) {
	old := s.pack
	before := old.StoredWh(&p.Pack)
	s.make(p.RestC, p.Wear, shared)
	p.Pack = s.pack.Carry(p.Pack, old)
	s.movedWh += s.pack.StoredWh(&p.Pack) - before
}

// charges says whether the cells may be charged at the temperature of p.
func (s *store) charges(p *Physics) bool {
	m := s.of.bat.Management
	return m == nil || p.TempC > m.ChargeMinC && p.TempC < m.ChargeMaxC
}

// gives says whether the cells' own management lets a current pass at p.
func (s *store) gives(p *Physics) bool {
	m := s.of.bat.Management
	return m == nil || p.CellVolts > m.LowV && p.CellAmps <= m.DischargeA &&
		p.TempC > m.DischargeMinC && p.TempC < m.DischargeMaxC
}

// follow keeps cells and charger in step with temperature and wear.
func (u *UPS) follow() {
	if !u.store.tuned(&u.Physics) {
		u.changes++
		u.store.tune(u.Physics.TempC)
	}
	if !u.store.fits(&u.Physics) {
		u.changes++
		u.store.follow(&u.Physics, u.steps)
		u.truthAt = never
	}
}

// discharge moves the battery by step at watts at its terminals. It says whether
// the battery can: if not it gives nothing, and exhausted tells.
func (u *UPS) discharge(p *Physics, step *battery.Step, watts float64) bool {
	next, r, ok := u.store.pack.ConstantPower(step, p.Pack, watts)
	if !ok {
		p.CellAmps, p.CellVolts, p.counted, p.released = 0, 0, 0, 0
		return false
	}
	u.measure(p, next, r, step)
	return true
}

// recharge moves the battery by step on its charger and returns the watts at the
// battery's terminals.
func (u *UPS) recharge(p *Physics, step *battery.Step) float64 {
	share := 1.0
	if u.generator {
		share = u.cfg.GeneratorCharge
	}
	if u.chargerDead || share <= 0 || !u.store.charges(p) {
		u.rest(p, step)
		return 0
	}
	charger := u.store.charger
	charger.MaxA = float64(charger.MaxA * share)
	next, r := u.store.pack.Charged(&charger, step, p.Pack)
	u.measure(p, next, r, step)
	return -float64(r.CellVolts*r.Amps) * float64(u.bat.Cells)
}

// rest moves the battery by step with nothing on it. What it loses by itself
// nobody measures.
func (u *UPS) rest(p *Physics, step *battery.Step) {
	next, r := u.store.pack.Rest(step, p.Pack, u.store.leaks)
	u.measure(p, next, r, step)
	p.counted = 0
}

// measure takes over what a step came to: readings per string of those that
// should be there, and what a counter of charge makes of it.
func (u *UPS) measure(p *Physics, next battery.PackState, r battery.Reading, step *battery.Step) {
	strings := float64(u.bat.Strings)
	p.counted = u.store.pack.DrawnAh(&p.Pack, &next) / step.Hours() / strings
	p.released = u.store.pack.ReleasedWh(&p.Pack, &next)
	p.Pack, p.CellVolts, p.CellAmps = next, r.CellVolts, r.Amps/strings
}

// StoredWh is the energy in the battery at p, in watt-hours, less what came with
// temperature and wear: what falls of it has gone out of the terminals or into
// heat.
func (u *UPS) StoredWh(p *Physics) float64 {
	return u.store.pack.StoredWh(&p.Pack) - u.store.movedWh
}

// exhausted says whether the battery cannot carry what hangs on it.
func (u *UPS) exhausted(p *Physics) bool {
	return p.CellVolts <= u.bat.CutoffV || !u.store.gives(p)
}

// SetCharge puts the battery to a rested state at share percent, as if by
// history; the controller has seen it happen.
func (u *UPS) SetCharge(percent float64) {
	u.Physics.Pack = u.store.pack.AtCharge(percent / 100)
	u.Physics.Belief.Cell = u.believed.AtCharge(percent / 100)
	u.upset()
}

// SetCharger fails or mends the charger.
func (u *UPS) SetCharger(working bool) {
	u.chargerDead = !working
	u.upset()
}
