package device

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/battery"
)

// Physics is the part that moves between two instants. Energies are sums since
// tick 0 in watt-hours.
type Physics struct {
	Pack      battery.PackState
	Belief    Belief  // the controller's
	TempC     float64 // of the battery
	RestC     float64 // what that would be without its own heat; see [store.follow]
	Wear      float64 // of the battery since tick 0, a share of its life
	RuntimeS  float64 // the controller's estimate, in seconds
	CellAmps  float64 // at the end of the last step, or after the last change, per string; negative, and the mean, while charging
	CellVolts float64 // mean over the cells in series, at the end of the last step, or after the last change
	counted   float64 // amperes per string that a counter of charge sees
	released  float64 // energy that the cells gave up in the last step, in Wh; see [battery.Pack.ReleasedWh]

	TrueRuntimeS float64 // of the battery as it is, in seconds
	RoomC        float64 // around the unit and its battery; see [UPS.SetAmbient]

	UnitC      float64       // of the unit without its battery
	InverterHz float64       // what the inverter makes, or would make
	WalkIn     float64       // share of the load that the rectifier has taken over
	Strain     [ways]float64 // overload borne so far by each way, as a share of what trips it

	MainsWh, OutputWh, LossWh float64
}

// Note reports one thing that happened: for programs, and for people.
type Note func(what snap.What, subject, text string)

// UPS is one unit. It is not safe for concurrent use.
type UPS struct {
	*design
	says Note

	store    store
	steps    *Steps          // see [UPS.Use]
	believed *battery.Params // what the controller takes a cell for; never changed in place

	Physics Physics
	load    Load
	loadPct float64    // of the rating, on the fullest line; see weigh
	linePct [3]float64 // of each line

	feed      snap.Feed
	bypass    Supply     // what reaches the bypass
	tookAt    vtime.Tick // when the input was taken back last
	qualifyAt vtime.Tick // when a good input may be taken; Never: bad, or already taken

	source   snap.OutputSource
	why      cause // of the bypass
	outputOn bool
	systemOn bool

	// Small ones stand together: a fleet has thousands of units.
	generator    bool // the supply is one
	bypassGood   bool // fitted and in its window
	direct       bool // high-efficiency mode: the static switch feeds the output
	thrifty      bool // that mode is wanted
	inverterDead bool
	fanDead      bool
	tooHot       bool
	chargerDead  bool
	batteryBad   bool
	testFailed   bool
	warm         bool // the unit has been given its temperature at tick 0
	knowsLoad    bool // the controller has seen the load of tick 0
	waiting      bool // a startup has fallen due and waits for the mains
	asked        bool // the output went off because somebody asked
	ordered      bool // the system went off because somebody asked
	inLoss       bool // the output went off in a power loss, by countdown or depletion
	parked       bool // it stays off when the mains come back
	holds        bool // a start waits for the charge of gate
	free         bool // of gate: the start is by hand, or the end of a reboot

	leastBad uint16 // milliseconds that the input has to be bad before that counts

	walkUntil  vtime.Tick // the rectifier carries all from here on; Never: it does
	directAt   vtime.Tick // when the bypass has been good for long enough for it; Never: it is not good
	deadSince  vtime.Tick // of the maintenance bypass
	deadAt     vtime.Tick // when that ends the output; Never: it is alive
	gap        vtime.Tick // see TakeGap
	longestGap vtime.Tick

	since     vtime.Tick // of battery operation; Never when not on battery
	lineBads  uint32
	countAt   vtime.Tick // when the input will have been bad for long enough to count; Never: it is good, or it does
	raised    Conditions // by the bench
	transfers int32
	refusals  int32 // times in a row that the input went bad soon after it was taken back

	control snap.Control
	gate    snap.RestartGate
	startAt vtime.Tick // a start that had to wait until the output was off long enough; Never
	offAt   vtime.Tick // when the output last went off

	config snap.Config

	test      snap.Test
	testUntil vtime.Tick // Never: no test runs, or it ends by charge

	estimatedAt vtime.Tick // never: the estimate is out of date
	upsets      int32
	changes     int32      // see [UPS.Changes]
	truthAt     vtime.Tick // never: the true runtime is out of date
}

// note reports what nobody decides by.
func (u *UPS) note(subject, text string) { u.says(snap.What{}, subject, text) }

// never stands for a time before all others.
const never = -vtime.Never

// New is a unit at tick 0: the input at feed, the output on, the battery rested
// at the charge of the plan.
func New(cfg plan.UPS, bat plan.Battery, src plan.Source, note Note) *UPS {
	u := newDesign(cfg, bat, src).build(note)
	u.Use(new(Steps))
	return u
}

// Twin is another unit of the same make at tick 0. It needs [UPS.Use] before
// time passes.
func (u *UPS) Twin(note Note) *UPS { return u.design.build(note) }

// Use has the unit keep what its steps need in s, which others may use between
// two calls of its methods.
func (u *UPS) Use(s *Steps) { u.steps = s }

func (d *design) build(note Note) *UPS {
	cfg, bat, src := &d.cfg, &d.bat, &d.src
	u := &UPS{
		design: d, says: note,
		store:     newStore(d),
		feed:      nominalFeed(*src, linesIn(*cfg)),
		bypass:    nominalSupply(*src),
		qualifyAt: vtime.Never, countAt: vtime.Never,
		source:   snap.SourceNormal,
		outputOn: true, systemOn: true,
		walkUntil: vtime.Never, deadAt: vtime.Never, directAt: vtime.Never,
		thrifty: cfg.HighEfficiency,
		since:   vtime.Never,
		control: snap.Control{
			ShutdownType: cfg.ShutdownType, AutoRestart: cfg.AutoRestart,
			ShutdownAt: vtime.Never, StartupAt: vtime.Never, RebootUntil: vtime.Never,
		},
		tookAt: never, startAt: vtime.Never, offAt: -leastOff,
		config: snap.Config{
			InputVolts: src.Volts, InputHz: src.Hz, OutputVolts: src.Volts, OutputHz: src.Hz,
			OutputVA: cfg.RatingVA, OutputWatts: cfg.RatingW,
			LowBatteryMinutes: cfg.LowBatteryMinutes, Audible: cfg.Audible,
			LowTransferVolts: cfg.LowTransferV, HighTransferVolts: cfg.HighTransferV,
		},
		test:        snap.Test{ID: snap.TestNone, SpinLock: 1, Result: snap.ResultNone, Ended: vtime.Never},
		testUntil:   vtime.Never,
		estimatedAt: never, truthAt: never,
	}
	u.believed = believes(&u.store)
	u.Physics.Pack = u.store.pack.AtCharge(bat.ChargePct / 100)
	u.Physics.Belief.Cell = u.believed.AtCharge(bat.ChargePct / 100)
	u.Physics.RestC = bat.AmbientC
	u.Physics.TempC, u.Physics.RoomC, u.Physics.UnitC = bat.AmbientC, bat.AmbientC, bat.AmbientC
	u.Physics.InverterHz, u.Physics.WalkIn = src.Hz, 1
	u.bypassGood = cfg.Bypass.Fitted && u.inBypassWindow()
	u.direct = u.mayGoDirect(&u.Physics)
	return u
}

// OutputOn says whether the outlets behind the unit can be live.
func (u *UPS) OutputOn() bool { return u.outputOn && u.source != snap.SourceNone }

// Source is what feeds the output.
func (u *UPS) Source() snap.OutputSource { return u.source }

// OnBattery says whether the battery carries the output, for whatever reason.
func (u *UPS) OnBattery() bool { return u.source == snap.SourceBattery }

// CardPowered says whether the network card has a supply: the unit's logic, or
// the mains through its standby supply. Without it the unit cannot be told
// anything either.
func (u *UPS) CardPowered() bool {
	return u.systemOn || u.feed.Good || u.hasOwnFeed() && u.bypassGood
}

// ShutdownAt is when the running shutdown countdown ends; vtime.Never without one.
func (u *UPS) ShutdownAt() vtime.Tick { return u.control.ShutdownAt }

// TestResult is the state of the running or last test.
func (u *UPS) TestResult() snap.TestResult { return u.test.Result }

// LineBads counts the times that the input went out of tolerance.
func (u *UPS) LineBads() uint32 { return u.lineBads }

// SetLoad tells the unit what its outlets draw from now on.
func (u *UPS) SetLoad(l Load) {
	if l != u.load {
		u.load = l
		u.weigh()
		u.upset()
	}
	if !u.warm { // the scenario begins after a long time of this
		u.warm = true
		u.warmUp()
	}
}

// upset notes that the flow of power changes: the estimate is out of date.
func (u *UPS) upset() {
	u.estimatedAt, u.truthAt = never, never
	u.upsets++
}

// Upsets counts the changes of supply, switches and load so far. After one the
// readings have to be made anew, see [UPS.Refresh].
func (u *UPS) Upsets() int { return int(u.upsets) }

// Changes counts the times that physics changed at an instant, by themselves and
// without an upset: what was read before is then out of date.
func (u *UPS) Changes() int { return int(u.changes) }

// Raise has the bench raise an alarm, or clear one that it raised.
func (u *UPS) Raise(k snap.AlarmKind, on bool) { u.raised = u.raised.With(k, on) }

// Deadline is the next instant after now at which the unit itself will act,
// vtime.Never if it waits for the world.
func (u *UPS) Deadline(now vtime.Tick) vtime.Tick {
	c := &u.control
	next := min(u.qualifyAt, u.countAt, c.ShutdownAt, c.StartupAt, c.RebootUntil, u.startAt, u.testUntil)
	if at := c.ShutdownAt - imminent + 1; c.ShutdownAt != vtime.Never && at > now {
		next = min(next, at) // the alarm for the last seconds begins
	}
	return min(next, u.pathDue(now), u.estimateDue())
}

// Due performs all that has fallen due at now: first the input, then the
// battery, the test and the countdowns. It is idempotent.
func (u *UPS) Due(now vtime.Tick) {
	u.countInput(now)
	u.takeBackMains(now)
	u.duePath(now)
	u.follow()
	u.dropWhenExhausted(now)
	u.endTest(now)
	u.countDown(now)
	u.startCharged(now)
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
