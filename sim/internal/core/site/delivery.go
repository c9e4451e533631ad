package site

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
)

// informs counts what became of informs.
type informs struct{ acked, unacked snap.Sent }

// delivery is how many informs were acknowledged and how many given up.
func (s *Site) delivery() (acked, unacked snap.Sent) {
	if s.informs == nil {
		return acked, unacked
	}
	return s.informs.acked, s.informs.unacked
}

// delivered notes what became of an inform at one receiver. The command may come
// from a journal, so that its kind may be anything.
func (s *Site) delivered(c snap.Command) snap.Result {
	if c.Notify == 0 || c.Notify >= snap.NotifyKinds {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no notification %d", c.Notify)}
	}
	if s.informs == nil {
		s.informs = new(informs)
	}
	if c.OK {
		s.informs.acked[c.Notify]++
		s.note("notify", fmt.Sprintf("%v acknowledged by %s", c.Notify, c.By.Peer))
		return snap.Result{}
	}
	s.informs.unacked[c.Notify]++
	s.note("notify", fmt.Sprintf("%v not acknowledged by %s: %s", c.Notify, c.By.Peer, c.Text))
	return snap.Result{}
}
