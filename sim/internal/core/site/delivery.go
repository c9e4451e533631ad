package site

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
)

// delivered notes what became of an inform at one receiver. The command may come
// from a journal, so that its kind may be anything.
func (s *Site) delivered(c snap.Command) snap.Result {
	if c.Notify == 0 || c.Notify >= snap.NotifyKinds {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no notification %d", c.Notify)}
	}
	if c.OK {
		s.acked[c.Notify]++
		s.note("notify", fmt.Sprintf("%v acknowledged by %s", c.Notify, c.By.Peer))
		return snap.Result{}
	}
	s.unacked[c.Notify]++
	s.note("notify", fmt.Sprintf("%v not acknowledged by %s: %s", c.Notify, c.By.Peer, c.Text))
	return snap.Result{}
}
