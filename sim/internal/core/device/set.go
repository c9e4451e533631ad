package device

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Nominal values that the unit supports; others are refused, as RFC 1628 has it.
var (
	nominalVolts  = []int64{220, 230, 240}
	nominalTenths = []int64{500, 600}
	// lowMinutes are the supported low-battery times; a write rounds up.
	lowMinutes = []int64{1, 2, 3, 5, 10, 15, 20, 30, 45, 60}
)

// Check says whether the assignment could be made now, without making it.
// handled is false for a variable that is not the unit's.
func (u *UPS) Check(a snap.Assignment) (r snap.Result, handled bool) {
	switch a.Var {
	case snap.VarTestSpinLock:
		if a.Int != int64(u.test.SpinLock) {
			return refuse("the spin lock is at %d", u.test.SpinLock), true
		}
	case snap.VarTestID:
		if why := u.canTest(snap.TestKind(a.Int)); why != "" {
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
		return oneOf(a.Int, nominalVolts), true
	case snap.VarInputFreq, snap.VarOutputFreq:
		return oneOf(a.Int, nominalTenths), true
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

// Apply makes an assignment that Check let pass.
func (u *UPS) Apply(now vtime.Tick, a snap.Assignment) {
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
	default:
		u.configure(a)
	}
}

func (u *UPS) configure(a snap.Assignment) {
	c := &u.config
	switch a.Var {
	case snap.VarAudible:
		u.setAudible(snap.Audible(a.Int))
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
func (u *UPS) setAudible(to snap.Audible) {
	if to == snap.AudibleMuted && (u.Conditions(0) == 0 || u.config.Audible == snap.AudibleDisabled) {
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
