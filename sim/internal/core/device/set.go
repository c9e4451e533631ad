package device

import (
	"fmt"
	"math"
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// lowMinutes are the supported low-battery times; a write rounds up.
var lowMinutes = []int64{1, 2, 3, 5, 10, 15, 20, 30, 45, 60}

// SupportedLowMinutes is what a low-battery time of that many minutes becomes when a
// client writes it: the next supported one, or the largest.
func SupportedLowMinutes(minutes int) int { return int(roundUp(int64(minutes), lowMinutes)) }

// nominalVolts are the nominal voltages that a unit for a supply of volts
// supports; others are refused, as RFC 1628 has it.
func nominalVolts(volts float64) []int64 {
	if volts < 160 {
		return with(int64(volts), 100, 110, 115, 120, 127)
	}
	return with(int64(volts), 200, 208, 220, 230, 240)
}

// nominalTenths are the nominal frequencies that it supports, in 0.1 Hz.
func nominalTenths(hz float64) []int64 { return with(int64(math.Round(10*hz)), 500, 600) }

// with is list with v, in order.
func with(v int64, list ...int64) []int64 {
	if !slices.Contains(list, v) {
		list = append(list, v)
		slices.Sort(list)
	}
	return list
}

// Check says whether the assignment could be made now, without making it.
// handled is false for a variable that is not the unit's.
func (u *UPS) Check(a snap.Assignment) (r snap.Result, handled bool) {
	switch a.Var {
	case snap.VarTestSpinLock:
		if a.Int != int64(u.test.SpinLock) {
			return refuse("the spin lock is at %d", u.test.SpinLock), true
		}
	case snap.VarTestID:
		kind := snap.TestKind(min(max(a.Int, 0), 255)) // 255 is no test
		if why := u.canTest(kind); why != "" {
			return snap.Result{Status: snap.Inconsistent, Reason: why}, true
		}
	case snap.VarShutdownType, snap.VarAutoRestart:
		return inRange(a.Int, 1, 2), true
	case snap.VarAudible:
		return inRange(a.Int, 1, 3), true
	case snap.VarShutdownAfter, snap.VarStartupAfter:
		return inRange(a.Int, -1, 1<<31-1), true
	case snap.VarReboot:
		return inRange(a.Int, -1, 300), true
	case snap.VarInputVoltage, snap.VarOutputVoltage:
		return oneOf(a.Int, u.volts), true
	case snap.VarInputFreq, snap.VarOutputFreq:
		return oneOf(a.Int, u.hz), true
	case snap.VarLowBattTime:
		return inRange(a.Int, 0, 1<<31-1), true
	case snap.VarLowTransfer:
		return u.transferPoint(a.Int, 0.60, 0.98), true
	case snap.VarHighTransfer:
		return u.transferPoint(a.Int, 1.02, 1.40), true
	default:
		return snap.Result{}, false
	}
	return snap.Result{}, true
}

// Apply makes an assignment that Check let pass. It returns the length of the
// gap that the output saw, 0 for none.
func (u *UPS) Apply(now vtime.Tick, a snap.Assignment) (gap vtime.Tick) {
	switch a.Var {
	case snap.VarTestSpinLock:
		u.test.SpinLock = NextSpin(u.test.SpinLock)
	case snap.VarTestID:
		u.StartTest(now, snap.TestKind(a.Int))
	case snap.VarShutdownType:
		u.control.ShutdownType = int(a.Int)
	case snap.VarAutoRestart:
		u.control.AutoRestart = a.Int == 1
	case snap.VarShutdownAfter, snap.VarStartupAfter, snap.VarReboot:
		u.order(now, a.Var, a.Int)
	case snap.VarLowTransfer, snap.VarHighTransfer:
		u.configure(now, a)
		return u.SetSupply(now, u.supply(), u.bypass) // the window has moved
	default:
		u.configure(now, a)
	}
	return 0
}

func (u *UPS) configure(now vtime.Tick, a snap.Assignment) {
	c := &u.config
	switch a.Var {
	case snap.VarAudible:
		u.setAudible(now, snap.Audible(a.Int))
	case snap.VarInputVoltage:
		c.InputVolts = float64(a.Int)
	case snap.VarOutputVoltage:
		c.OutputVolts = float64(a.Int)
	case snap.VarInputFreq:
		c.InputHz = float64(a.Int) / 10
	case snap.VarOutputFreq:
		c.OutputHz = float64(a.Int) / 10
	case snap.VarLowBattTime:
		c.LowBatteryMinutes = int(roundUp(a.Int, lowMinutes))
	case snap.VarLowTransfer:
		c.LowTransferVolts = float64(a.Int)
	case snap.VarHighTransfer:
		c.HighTransferVolts = float64(a.Int)
	}
	u.note("control", fmt.Sprintf("%s %d", a.Var, a.Int))
}

// setAudible: muting while nothing sounds is accepted and does nothing.
func (u *UPS) setAudible(now vtime.Tick, to snap.Audible) {
	if to == snap.AudibleMuted && (u.Conditions(now) == 0 || u.config.Audible == snap.AudibleDisabled) {
		return
	}
	u.config.Audible = to
}

// NextSpin is the successor of a TestAndIncr (RFC 2579).
func NextSpin(v int32) int32 {
	if v == 1<<31-1 {
		return 0
	}
	return v + 1
}

func (u *UPS) transferPoint(v int64, low, high float64) snap.Result {
	from, to := int64(low*u.config.InputVolts), int64(high*u.config.InputVolts)
	if v < from || v > to {
		return refuse("this transfer point goes from %d to %d V", from, to)
	}
	return snap.Result{}
}

func inRange(v, low, high int64) snap.Result {
	if v < low || v > high {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("%d is outside %d..%d", v, low, high)}
	}
	return snap.Result{}
}

func oneOf(v int64, supported []int64) snap.Result {
	for _, s := range supported {
		if v == s {
			return snap.Result{}
		}
	}
	return refuse("supported are %v", supported)
}

// roundUp is the next supported value, or the largest (RFC 1628
// upsConfigLowBattTime).
func roundUp(v int64, supported []int64) int64 {
	for _, s := range supported {
		if v <= s {
			return s
		}
	}
	return supported[len(supported)-1]
}

func refuse(format string, args ...any) snap.Result {
	return snap.Result{Status: snap.Inconsistent, Reason: fmt.Sprintf(format, args...)}
}

// Keeps says whether the unit holds on to what a sets when it has no supply.
// That alarms are muted ends with them.
func Keeps(a snap.Assignment) bool {
	switch a.Var {
	case snap.VarShutdownType, snap.VarAutoRestart, snap.VarLowBattTime, snap.VarLowTransfer, snap.VarHighTransfer,
		snap.VarInputVoltage, snap.VarInputFreq, snap.VarOutputVoltage, snap.VarOutputFreq:
		return true
	case snap.VarAudible:
		return a.Int != int64(snap.AudibleMuted)
	}
	return false
}
