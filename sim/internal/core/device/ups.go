package device

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/battery"
	"ridethrough/sim/internal/phys/power"
	"ridethrough/sim/internal/phys/thermal"
)

// Physics is the part that moves between two instants. Energies are sums since
// tick 0 in watt-hours.
type Physics struct {
	Cell      battery.State
	TempC     float64 // of the battery
	RuntimeS  float64 // the controller's estimate, in seconds
	CellAmps  float64 // mean of the last step, or at the last change, per string; negative while charging
	CellVolts float64 // at the end of the last step, or after the last change

	MainsWh, OutputWh, LossWh float64
}

// Load is what the outlets draw.
type Load struct {
	Watts, VA float64
}

// Note reports one thing that happened, for the trace.
type Note func(subject, text string)

// UPS is one unit. It is not safe for concurrent use.
type UPS struct {
	cfg  plan.UPS
	bat  plan.Battery
	note Note

	cell    battery.Params
	charger battery.Charger
	body    thermal.Node // the battery as a lump of heat
	mains   power.LossCurve
	onBatt  power.LossCurve

	Physics Physics
	load    Load

	feed      snap.Feed
	qualifyAt vtime.Tick // when a good input may be taken; Never: bad, or already taken

	source   snap.OutputSource
	outputOn bool
	systemOn bool

	since     vtime.Tick // of battery operation; Never when not on battery
	lineBads  uint32
	transfers int

	control snap.Control
	startAt vtime.Tick // a start that had to wait until the output was off long enough; Never
	offAt   vtime.Tick // when the output last went off
	waiting bool       // a startup has fallen due and waits for the mains
	asked   bool       // the output went off because somebody asked
	ordered bool       // the system went off because somebody asked
	inLoss  bool       // the output went off in a power loss, by countdown or depletion

	config    snap.Config
	volts, hz []int64 // nominal values that it supports, in V and 0.1 Hz
	raised    Conditions

	test      snap.Test
	testUntil vtime.Tick // Never: no test runs, or it ends by charge

	estimatedAt vtime.Tick // never: the estimate is out of date
	chargerDead bool
	batteryBad  bool
	testFailed  bool
	upsets      int
	step        battery.Step
	stepFor     vtime.Tick
	instant     battery.Step // of no length
}

// never stands for a time before all others.
const never = -vtime.Never

// Heat capacity and conductance of one 2.2 kg block of six cells in free air:
// 0.9 kJ/kg/K and 0.060 m2 at 8 W/m2/K, from memory.
const (
	blockHeatJPerK = 1980
	blockCoolWPerK = 0.48
	cellsPerBlock  = 6
)

// New is a unit at tick 0: the input at feed, the output on, the battery rested
// at the charge of the plan.
func New(cfg plan.UPS, bat plan.Battery, src plan.Source, note Note) *UPS {
	blocks := float64(bat.Cells*bat.Strings) / cellsPerBlock
	u := &UPS{
		cfg: cfg, bat: bat, note: note,
		cell: bat.Params(),
		charger: battery.Charger{
			SetV: bat.FloatV, MaxA: bat.ChargeA / float64(bat.Strings),
			Efficiency: 0.97, // coulombic, from memory
			FloatA:     0.001 * bat.CapacityAh,
		},
		body:      thermal.Node{HeatJPerK: blocks * blockHeatJPerK, CoolWPerK: blocks * blockCoolWPerK},
		mains:     power.LossCurve(cfg.MainsLoss),
		onBatt:    power.LossCurve(cfg.BatteryLoss),
		feed:      snap.Feed{Volts: src.Volts, Hz: src.Hz, Good: true},
		qualifyAt: vtime.Never,
		source:    snap.SourceNormal,
		outputOn:  true, systemOn: true,
		since: vtime.Never,
		control: snap.Control{
			ShutdownType: cfg.ShutdownType, AutoRestart: cfg.AutoRestart,
			ShutdownAt: vtime.Never, StartupAt: vtime.Never, RebootUntil: vtime.Never,
		},
		startAt: vtime.Never, offAt: -leastOff,
		volts: nominalVolts(src.Volts), hz: nominalTenths(src.Hz),
		config: snap.Config{
			InputVolts: src.Volts, InputHz: src.Hz, OutputVolts: src.Volts, OutputHz: src.Hz,
			OutputVA: cfg.RatingVA, OutputWatts: cfg.RatingW,
			LowBatteryMinutes: cfg.LowBatteryMinutes, Audible: cfg.Audible,
			LowTransferVolts: cfg.LowTransferV, HighTransferVolts: cfg.HighTransferV,
		},
		test:        snap.Test{ID: snap.TestNone, SpinLock: 1, Result: snap.ResultNone, Ended: vtime.Never},
		testUntil:   vtime.Never,
		estimatedAt: never,
		stepFor:     -1,
	}
	u.instant = u.cell.NewStep(0)
	u.Physics.Cell = u.cell.AtCharge(bat.ChargePct / 100)
	u.Physics.TempC = bat.AmbientC
	return u
}

// OutputOn says whether the outlets behind the unit can be live.
func (u *UPS) OutputOn() bool { return u.outputOn && u.source != snap.SourceNone }

// OnBattery says whether the battery carries the output, for whatever reason.
func (u *UPS) OnBattery() bool { return u.source == snap.SourceBattery }

// CardPowered says whether the network card has a supply: the unit's logic, or
// the mains through its standby supply. Without it the unit cannot be told
// anything either.
func (u *UPS) CardPowered() bool { return u.systemOn || u.feed.Good }

// ShutdownAt is when the running shutdown countdown ends; vtime.Never without one.
func (u *UPS) ShutdownAt() vtime.Tick { return u.control.ShutdownAt }

// TestResult is the state of the running or last test.
func (u *UPS) TestResult() snap.TestResult { return u.test.Result }

// SetLoad tells the unit what its outlets draw from now on.
func (u *UPS) SetLoad(l Load) {
	if l != u.load {
		u.load = l
		u.upset()
	}
}

// upset notes that the flow of power changes: the estimate is out of date.
func (u *UPS) upset() {
	u.estimatedAt = never
	u.upsets++
}

// Upsets counts the changes of supply, switches and load so far. After one the
// readings have to be made anew, see [UPS.Refresh].
func (u *UPS) Upsets() int { return u.upsets }

// SetCharge puts the battery to a rested state at share percent, as if by history.
func (u *UPS) SetCharge(percent float64) {
	u.Physics.Cell = u.cell.AtCharge(percent / 100)
	u.upset()
}

// SetCharger fails or mends the charger.
func (u *UPS) SetCharger(working bool) {
	u.chargerDead = !working
	u.upset()
}

// Raise has the bench raise an alarm, or clear one that it raised.
func (u *UPS) Raise(k snap.AlarmKind, on bool) { u.raised = u.raised.With(k, on) }

// Deadline is the next instant after now at which the unit itself will act,
// vtime.Never if it waits for the world.
func (u *UPS) Deadline(now vtime.Tick) vtime.Tick {
	c := &u.control
	next := min(u.qualifyAt, c.ShutdownAt, c.StartupAt, c.RebootUntil, u.startAt, u.testUntil)
	if at := c.ShutdownAt - imminent + 1; c.ShutdownAt != vtime.Never && at > now {
		next = min(next, at) // the alarm for the last seconds begins
	}
	return min(next, u.estimateDue())
}

// Due performs all that has fallen due at now: first the input, then the
// battery, the test and the countdowns. It is idempotent.
func (u *UPS) Due(now vtime.Tick) {
	u.takeBackMains(now)
	u.dropWhenExhausted(now)
	u.endTest(now)
	u.countDown(now)
	u.estimate(now)
	u.endMuting(now)
}

// endMuting ends muting with the condition it was for (RFC 1628
// upsConfigAudibleStatus).
func (u *UPS) endMuting(now vtime.Tick) {
	if u.config.Audible == snap.AudibleMuted && u.Conditions(now) == 0 {
		u.config.Audible = snap.AudibleEnabled
		u.note("ups", "muting ended")
	}
}
