package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Park has the output stay off when the mains come back, whatever upsAutoRestart
// says: it is off because a schedule wants it so. A start that somebody orders ends
// that.
func (u *UPS) Park(on bool) { u.parked = on }

// Order starts or cancels one of the countdowns of RFC 1628 in seconds, as a write
// to its variable does.
func (u *UPS) Order(now vtime.Tick, v snap.Var, seconds int64) { u.order(now, v, seconds) }
