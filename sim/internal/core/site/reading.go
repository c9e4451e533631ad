package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// reading is one answer to a poll, as software that follows the standard reads
// it. Without an answer ok is false.
type reading struct {
	ok         bool
	known      bool // what feeds the output is told, and is not "other"
	onBattery  bool
	outputOff  bool
	counting   bool // a shutdown countdown runs
	inputGood  bool
	hot        bool       // the inlet is warmer than the policy's limit
	timer      vtime.Tick // seconds on battery
	runtime    vtime.Tick // minutes remaining, if hasRuntime
	hasRuntime bool
	chargePct  float64 // if hasCharge
	hasCharge  bool
	lowBattery bool

	batteryFailed bool // its last test, as far as the policy looks
}

// charged says whether the charge is known and at least limit. No limit needs no
// charge.
func (r *reading) charged(limit float64) bool {
	return limit == 0 || r.hasCharge && r.chargePct >= limit
}

// answer is what the card says to a poll, in the units of RFC 1628.
type answer struct {
	source, status, test int64
	seconds, minutes     int64
	charge               float64
	hasMinutes           bool
	hasCharge            bool
	counting             bool
	inputBad             bool // is in the alarm table
	batteryBad           bool // it, or that a test failed, is
}

// read has the policy poll the card.
func (s *Site) read(now vtime.Tick) reading {
	cfg := s.plan.Policy
	a, ok := s.ask(now, s.opens(now, cfg.Peer, &cfg.Client), "policy")
	if ok {
		ok, _ = s.exchange("policy", inward, 1+cfg.Retries, cfg.Timeout, 0, func() {})
	}
	if !ok {
		return reading{}
	}
	r := s.policy.interpret(a)
	r.hot = s.inletHot()
	return r
}

// opens says whether the card answers software on the machine at, if nothing gets lost.
func (s *Site) opens(now vtime.Tick, at int, c *plan.Client) bool {
	return s.reachedFrom(at) && s.admits(now, at, c, false)
}

// ask is what the card says to software, if it answers that at all: see [Site.opens].
// What gets lost on the way is drawn for who asks.
func (s *Site) ask(now vtime.Tick, open bool, who string) (answer, bool) {
	if !open || s.pollLost(now, who) {
		return answer{}, false
	}
	s.fill(now)
	d := s.view.Seen()
	level := d.Card.Settings.Conformance
	if q := s.card.Quirks(); q != nil {
		return s.oddAnswer(q, d, now).within(level), true
	}
	return answer{
		source: int64(d.UPS.Source), status: int64(d.Battery.Status), test: int64(d.Test.Result),
		seconds: secondsOnBattery(d, now), minutes: minutesLeft(d), charge: d.Battery.ChargePct,
		hasMinutes: true, hasCharge: true,
		counting: d.Control.ShutdownAt != vtime.Never, inputBad: d.Alarms.Has(snap.AlarmInputBad),
		batteryBad: batteryBad(d),
	}.within(level), true
}

// within is a from a card of that level: below full RFC 1628 asks for neither
// runtime nor charge, and of a two-contact unit not for tests.
func (a answer) within(level snap.Conformance) answer {
	if level == snap.ConformBasic || level == snap.ConformSubset {
		a.hasMinutes, a.hasCharge = false, false
	}
	if level == snap.ConformSubset {
		a.test = 0
	}
	return a
}

// batteryBad says whether the alarm table tells that the battery failed its test.
func batteryBad(d *snap.Device) bool {
	return d.Alarms.Has(snap.AlarmBatteryBad) || d.Alarms.Has(snap.AlarmDiagnosticTestFailed)
}

// minutesLeft is upsEstimatedMinutesRemaining.
func minutesLeft(d *snap.Device) int64 { return int64(max(1, vtime.Tick(d.Battery.RuntimeS)/60)) }

// secondsOnBattery is upsSecondsOnBattery.
func secondsOnBattery(d *snap.Device, now vtime.Tick) int64 {
	if d.UPS.OnBatterySince == vtime.Never {
		return 0
	}
	return max(now-d.UPS.OnBatterySince, 0).WholeSeconds()
}

// interpret reads an answer as the policy believes it.
func (p *policy) interpret(a answer) reading {
	cfg := p.cfg
	unit := vtime.Minute
	if cfg.MinutesAsSeconds {
		unit = vtime.Second
	}
	source := snap.OutputSource(a.source)
	r := reading{
		ok:        true,
		known:     a.source > int64(snap.SourceOther) && a.source <= int64(snap.SourceReducer),
		onBattery: source == snap.SourceBattery,
		outputOff: source == snap.SourceNone,
		counting:  a.counting, inputGood: !a.inputBad,
		runtime: vtime.Tick(a.minutes) * unit, chargePct: a.charge,
		lowBattery: a.status == int64(snap.BatteryLow) || a.status == int64(snap.BatteryDepleted),
	}
	r.batteryFailed = a.batteryBad || !cfg.AlarmsAlone && a.test == int64(snap.ResultError)
	r.hasRuntime = a.hasMinutes && (a.minutes >= 1 || cfg.AcceptInvalid) && p.credible(&p.lastRuntime, float64(a.minutes))
	r.hasCharge = a.hasCharge && (a.charge >= 0 && a.charge <= 100 || cfg.AcceptInvalid) && p.credible(&p.lastCharge, a.charge)
	if cfg.IgnoreTest && a.test == int64(snap.ResultInProgress) {
		r.onBattery = false
	}
	if r.onBattery {
		r.timer = vtime.Tick(a.seconds) * vtime.Second
	}
	return r
}

// farFall is how many times less a figure may be than the one before it and still be
// believed by a policy that distrusts jumps.
const farFall = 6

// credible says whether the policy believes a figure after the last one that it
// believed.
func (p *policy) credible(last *float64, now float64) bool {
	if p.cfg.DistrustJumps && float64(now*farFall) < *last {
		return false
	}
	*last = now
	return true
}
