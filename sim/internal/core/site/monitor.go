package site

import (
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// monitor is the modelled monitoring manager: it knows what the card answers and
// what notifications arrive. A nil one is not there.
type monitor struct {
	cfg    *plan.Monitor
	next   vtime.Tick
	missed int    // polls in a row without an answer
	polls  uint64 // drawn for: see [Site.pollLost]
	low    bool
	told   vtime.Tick // when the latest notification that it has heard was issued
	v3     engines
	rows   map[int64]bool // rows of the alarm table that it has seen
	last   counts
	gone   [snap.AlarmKinds]vtime.Tick // when an alarm with a ticket was last there; Never: it never was
	seen   snap.Monitor
	shown  *snap.Monitor // seen, as it was handed out last
}

func newMonitor(cfg *plan.Monitor) *monitor {
	if cfg == nil {
		return nil
	}
	m := &monitor{cfg: cfg, next: cfg.Poll, rows: map[int64]bool{}, shown: new(snap.Monitor)}
	for k := range m.gone {
		m.gone[k] = vtime.Never
	}
	return m
}

func (m *monitor) deadline() vtime.Tick {
	if m == nil {
		return vtime.Never
	}
	return m.next
}

// view is what it knows. The value never changes.
func (m *monitor) view() *snap.Monitor {
	if m == nil {
		return nil
	}
	if *m.shown != m.seen {
		shown := m.seen
		m.shown = &shown
	}
	return m.shown
}

func (s *Site) runMonitor(now vtime.Tick) {
	m := s.monitor
	if m == nil || m.next > now {
		return
	}
	m.next = now + m.cfg.Poll
	s.stale = true
	a, ok := s.watch(now)
	s.pollNeighbour(now)
	if !ok {
		s.unanswered()
		return
	}
	s.answered(now, a)
}

// watch is one poll, and says whether it was answered in time.
func (s *Site) watch(now vtime.Tick) (answer, bool) {
	m := s.monitor
	open := s.opens(now, m.cfg.Peer, &m.cfg.Client)
	takes, intime := s.pollTakes(now, open)
	if m.cfg.InTurn {
		m.seen.OthersLate = max(m.seen.OthersLate, takes)
	}
	a, ok := s.ask(now, open, "monitor")
	ok = ok && intime && (m.cfg.Version != "v3" || !open || s.inStep(now))
	return a, ok
}

// pollTakes is how long the requests of a poll keep the monitor, and whether all of
// them are answered in time. The first that is not ends it.
func (s *Site) pollTakes(now vtime.Tick, open bool) (takes vtime.Tick, intime bool) {
	cfg, q := s.monitor.cfg, s.card.Quirks()
	tries := 1 + cfg.Retries
	waits := vtime.Tick(tries) * cfg.Timeout
	if !open || q.Of(snap.QuirkHung) != nil {
		return waits, false
	}
	for left := cfg.Objects; left > 0; left -= cfg.AtOnce {
		one := replyTakes(q, min(left, cfg.AtOnce))
		if one > 0 {
			s.card.Acted(now, snap.QuirkSlowObjects)
		}
		if one > cfg.Timeout {
			return takes + waits, false
		}
		ok, took := s.exchange("monitor", inward, tries, cfg.Timeout, one, func() {})
		if takes += took; !ok {
			return takes, false
		}
	}
	return takes, true
}

// replyTakes is how long a card with quirks takes for a reply with so many
// variables, at most a minute.
func replyTakes(q *snap.Quirks, objects int) vtime.Tick {
	slow := q.Of(snap.QuirkSlowObjects)
	if slow == nil {
		return 0
	}
	return min(vtime.Tick(objects)*slow.Delay, vtime.Minute)
}

func (s *Site) answered(now vtime.Tick, a answer) {
	m := s.monitor
	m.seen.Answered++
	m.missed = 0
	s.alert(&m.seen.ContactLost, false, "the card answers", nil)
	if a.source > int64(snap.SourceOther) && a.source <= int64(snap.SourceReducer) {
		s.learn(a.source == int64(snap.SourceBattery) && a.test != int64(snap.ResultInProgress))
	}
	if a.hasCharge {
		s.weigh(a.charge)
	}
	s.lookAtAlarms(now)
	s.lookAtCounts(now)
}

func (s *Site) unanswered() {
	m := s.monitor
	m.seen.Unanswered++
	m.missed++
	if m.cfg.GapsAreZero {
		s.weigh(0)
	}
	if m.missed >= m.cfg.LostAfter && !m.cfg.SilenceIsFine {
		s.alert(&m.seen.ContactLost, true, "the card does not answer", &m.seen.ContactAlerts)
	}
}

// learn takes what a poll says about what feeds the output.
func (s *Site) learn(onBattery bool) {
	m := s.monitor
	if !onBattery && m.cfg.AwaitClear {
		return
	}
	s.tellBattery(onBattery)
}

func (s *Site) tellBattery(on bool) {
	m := s.monitor
	text := "the load is off the battery"
	if on {
		text = "the load runs on battery"
	}
	s.alert(&m.seen.OnBattery, on, text, &m.seen.Alerts)
}

func (s *Site) weigh(charge float64) {
	m := s.monitor
	if charge >= m.cfg.LowCharge {
		m.low = false
		return
	}
	s.alert(&m.low, true, "the charge is low", &m.seen.LowAlerts)
}

// alert opens or closes one, and says so if that is news.
func (s *Site) alert(open *bool, is bool, text string, opened *uint32) {
	if *open == is {
		return
	}
	*open = is
	if is && opened != nil {
		*opened++
	}
	s.note("monitor", text)
}

// hears takes a notification that has arrived, and was issued at that time. By the
// sysUpTime in it (RFC 3416 section 4.2.6) one that comes behind a later one is known to
// be old: it is a reason to look and no more.
func (s *Site) hears(n snap.Notification, issued vtime.Tick) {
	m := s.monitor
	old := issued < m.told
	m.told = max(m.told, issued)
	switch {
	case old:
	case n.Kind == snap.NotifyOnBattery:
		s.tellBattery(true)
	case n.Kind == snap.NotifyAlarmRemoved && n.Alarm == snap.AlarmOnBattery:
		s.tellBattery(false)
	}
	if n.Kind == snap.NotifyAlarmAdded || n.Kind == snap.NotifyAlarmRemoved {
		m.next = s.now // it looks at once
	}
}

// lookAtAlarms opens and closes tickets by the alarm table.
func (s *Site) lookAtAlarms(now vtime.Tick) {
	m := s.monitor
	alarms := &s.view.Seen().Alarms
	m.seen.TicketOpen = false
	for i := range alarms.Count {
		row := &alarms.Rows[i]
		if !slices.Contains(m.cfg.Tickets, row.Kind) {
			continue
		}
		m.seen.TicketOpen = true
		if !m.rows[int64(row.ID)] {
			m.rows[int64(row.ID)] = true
			m.seen.Events++
			s.ticket(now, row.Kind)
		}
	}
	for _, k := range m.cfg.Tickets {
		if alarms.Has(k) {
			m.gone[k] = now
		}
	}
}

// ticket opens one about a new row if the monitor takes it for something new.
func (s *Site) ticket(now vtime.Tick, k snap.AlarmKind) {
	m := s.monitor
	known := m.gone[k] != vtime.Never
	switch m.cfg.Ticket {
	case plan.TicketByCondition:
		known = known && now-m.gone[k] < m.cfg.Quiet
	case plan.TicketByRow:
		known = false
	}
	if known {
		s.note("monitor", k.String()+" is back: the same ticket")
		return
	}
	m.seen.Tickets++
	s.note("monitor", "opens a ticket: "+k.String())
}
