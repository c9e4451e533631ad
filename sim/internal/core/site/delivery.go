package site

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
)

// delivery is how many informs were acknowledged and how many given up.
func (s *Site) delivery() (acked, unacked snap.Sent) {
	if s.traffic == nil {
		return acked, unacked
	}
	return s.traffic.acked, s.traffic.unacked
}

// delivered notes what became of an inform at one receiver. The command may come
// from a journal, so that its kind may be anything.
func (s *Site) delivered(c snap.Command) snap.Result {
	if c.Notify == 0 || c.Notify >= snap.NotifyKinds {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no notification %d", c.Notify)}
	}
	t := s.ownTraffic()
	s.tellTried(&c)
	if c.OK {
		t.acked[c.Notify]++
		s.says(snap.What{Kind: snap.WhatNotifyEnded, Notify: c.Notify}, "notify", fmt.Sprintf("%v acknowledged by %s", c.Notify, c.By.Peer))
		return snap.Result{}
	}
	t.unacked[c.Notify]++
	s.says(snap.What{Kind: snap.WhatNotifyEnded, Notify: c.Notify}, "notify", fmt.Sprintf("%v not acknowledged by %s: %s", c.Notify, c.By.Peer, c.Text))
	return snap.Result{}
}

// tellTried tells whoever asked for a test message what became of it: of an inform the
// card knows, of a trap nobody does.
func (s *Site) tellTried(c *snap.Command) {
	switch {
	case c.Notify != snap.NotifyTry:
	case c.OK:
		s.card.Record(s.now, "test message acknowledged by "+c.By.Peer)
	default:
		s.card.Record(s.now, "test message not acknowledged by "+c.By.Peer+": "+c.Text)
	}
}

// receiverName is what the settings call the receiver of that number, from 1.
func (s *Site) receiverName(number uint8) string {
	if list := s.card.Receivers(); int(number) <= len(list) {
		return list[number-1].Name
	}
	return "to nobody" // it was taken out of the settings just now
}
