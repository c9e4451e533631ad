package site

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// counts is what the card said at a poll of what only grows.
type counts struct {
	known  bool
	at     vtime.Tick
	boots  uint32 // snmpEngineBoots
	uptime int64  // sysUpTime, hundredths of a second modulo 2^32
	bads   int64  // upsInputLineBads
}

const (
	wrapsAt = 1 << 32
	// reckoning is how far sysUpTime may be from where it is reckoned to be, in
	// hundredths of a second: what a poll takes, and the drift of a clock over a day.
	reckoning = 1000
)

// lookAtCounts notices restarts of the card, and counts failures of its input.
func (s *Site) lookAtCounts(now vtime.Tick) {
	m := s.monitor
	is := counts{known: true, at: now, boots: s.saysBoots(), uptime: s.saysUpTime(now), bads: s.saysLineBads(now)}
	was := m.last
	if m.last = is; !was.known {
		return
	}
	restarted := restartedSince(was, is)
	if m.cfg.FallIsRestart {
		restarted = is.uptime < was.uptime
	}
	if restarted {
		m.seen.Restarts++
		s.note("monitor", "the card has restarted")
	}
	switch {
	case is.bads >= was.bads:
		m.seen.LineFailures += is.bads - was.bads
	case m.cfg.FallIsWrap:
		m.seen.LineFailures += is.bads - was.bads + wrapsAt
	case restarted:
		m.seen.LineFailures += is.bads
	}
}

// restartedSince says whether the card has restarted: its boots have risen (RFC 3411
// snmpEngineBoots). Those of some cards are always 1: then if sysUpTime has fallen to no
// more than the time since the poll before, and is not what it would have come to by now,
// its wrap included (RFC 2578 section 7.1.8).
func restartedSince(was, is counts) bool {
	if is.boots > 1 || is.uptime >= was.uptime {
		return is.boots > was.boots
	}
	elapsed := (is.at - was.at).Hundredths()
	off := is.uptime - (was.uptime+elapsed)%wrapsAt
	return is.uptime <= elapsed+reckoning && (off < -reckoning || off > reckoning)
}

// saysBoots is what the card says of its snmpEngineBoots. That a quirk acts is told where
// it keeps a manager out.
func (s *Site) saysBoots() uint32 {
	if s.card.Quirks().Of(snap.QuirkBootsNotKept) != nil {
		return min(s.view.Card.Boots, 1)
	}
	return s.view.Card.Boots
}

// saysUpTime is what the card says of its sysUpTime, quirks and all.
func (s *Site) saysUpTime(now vtime.Tick) int64 {
	card, q := &s.view.Seen().Card, s.card.Quirks()
	n := q.UpTime(card, max(card.Runs(now), 0).Hundredths()) % wrapsAt
	if q.Of(snap.QuirkUptimeNearWrap) != nil {
		s.card.Acted(now, snap.QuirkUptimeNearWrap)
	}
	one := q.Of(snap.QuirkUptimeStepsBack)
	if one == nil || q.DrawFor("monitor", one.Kind, uint64(now)*2)*100 >= one.Percent {
		return n
	}
	s.card.Acted(now, one.Kind)
	by := 1 + int64(q.DrawFor("monitor", one.Kind, uint64(now)*2+1)*float64(one.Lasts.Hundredths()))
	return max(n-by, 0)
}

// saysLineBads is what it says of its upsInputLineBads.
func (s *Site) saysLineBads(now vtime.Tick) int64 {
	d := s.view.Seen()
	bads := func(d *snap.Device, _ vtime.Tick) int64 { return int64(d.UPS.LineBads) }
	q := s.card.Quirks()
	if q == nil {
		return bads(d, now)
	}
	n, _ := asking{s, q, d, now}.number("upsInputLineBads", 0, bads)
	return n
}
