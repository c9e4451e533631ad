package card

import (
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// dataLogName is the log that holds the data log.
const dataLogName = "data"

// dataLog is what the card logs of its readings. A nil one is empty.
type dataLog struct {
	samples []snap.Sample
	last    uint32     // number of the last entry
	lost    uint32     // went before the first
	date    snap.Stamp // of the last entry; [neverLogged]

	// The next entry, as it was found for the interval and the clock as they are.
	every vtime.Tick // 0: it has to be found
	clock snap.Clock
	due   snap.Stamp
	dueAt vtime.Tick // Never
}

const neverLogged = snap.Stamp(math.MinInt64)

func newDataLog() *dataLog { return &dataLog{date: neverLogged, dueAt: vtime.Never} }

func (l *dataLog) seq() uint32 {
	if l == nil {
		return 0
	}
	return l.last
}

func (l *dataLog) view() *snap.DataLog {
	if l == nil || l.last == 0 {
		return nil
	}
	return &snap.DataLog{Samples: l.samples, Lost: l.lost}
}

// emptyData takes all entries out of the data log. The numbers go on.
func (c *Card) emptyData() {
	if c.data == nil || c.data.samples == nil {
		return
	}
	c.data.samples, c.data.lost = nil, 0
	c.kept.DataNumbers = c.data.last
	c.changed(&c.kept.DataNumbers)
	c.changes.data = 0 // so that the host takes them out too
}

// planSamples finds when the card logs its readings next: when its clock shows a
// multiple of the interval. What the clock is moved over is not made up for, and a
// date that the last entry has is not logged again.
func (c *Card) planSamples(now vtime.Tick) {
	every := c.inForce.Upkept().DataEvery
	switch l := c.data; {
	case every == 0:
		if l != nil {
			l.every, l.dueAt = 0, vtime.Never
		}
	case l == nil:
		c.data = newDataLog()
		c.planSample(now, every)
	case l.every != every || l.clock != c.clock.Clock:
		c.planSample(now, every)
	}
}

func (c *Card) planSample(now, every vtime.Tick) {
	l := c.data
	l.every, l.clock = every, c.clock.Clock
	l.due = l.clock.Round(l.clock.Stamp(now)-1, every)
	if l.due == l.date {
		l.due = l.clock.Round(l.due, every)
	}
	l.dueAt = l.clock.Reaches(now, l.due)
}

// missSample has the next entry found anew: the card was not there for the one that
// was due.
func (c *Card) missSample() {
	if c.data != nil {
		c.data.every = 0
	}
}

func (l *dataLog) deadline() vtime.Tick {
	if l == nil {
		return vtime.Never
	}
	return l.dueAt
}

// SampleDue says whether the card logs its readings at now.
func (c *Card) SampleDue(now vtime.Tick) bool { return c.Running() && c.data.deadline() <= now }

// Sample logs what d reads. Entries that were handed out never change: appending
// writes behind them, cutting copies.
func (c *Card) Sample(now vtime.Tick, d *snap.Device) {
	l, keeps := c.data, c.inForce.Upkept().DataEntries
	if n := len(l.samples); n >= 2*keeps {
		l.lost += uint32(n - keeps)
		l.samples = append(make([]snap.Sample, 0, 2*keeps), l.samples[n-keeps:]...)
	}
	s := snap.SampleOf(d)
	l.last++
	s.Seq, s.At, l.date = l.last, l.due, l.due // a clock that is fast leaves out a millisecond now and then
	l.samples = append(l.samples, s)
	c.planSample(now, l.every)
}

// since appends to logs what was logged after the entry told.
func (l *dataLog) since(logs []snap.LogKeep, told uint32) []snap.LogKeep {
	if l == nil || told == l.last {
		return logs
	}
	k := snap.LogKeep{Name: dataLogName, From: uint64(l.last) + 1}
	if len(l.samples) > 0 {
		k.From = uint64(l.samples[0].Seq)
	}
	for i := range l.samples {
		if s := &l.samples[i]; s.Seq > told {
			k.Entries = append(k.Entries, snap.LogEntry{Seq: uint64(s.Seq), Value: encode(s)})
		}
	}
	return append(logs, k)
}

// recallData takes up the data log of the life before.
func (c *Card) recallData(raw *snap.Memory) {
	list := raw.Logs[dataLogName]
	if len(list) == 0 {
		if c.kept.DataNumbers > 0 {
			c.data = newDataLog()
			c.data.last = c.kept.DataNumbers
		}
		return
	}
	l := newDataLog()
	l.last, l.lost = uint32(list[len(list)-1].Seq), uint32(max(0, int64(list[0].Seq)-1-int64(c.kept.DataNumbers)))
	for _, e := range list {
		var s snap.Sample
		if err := snap.DecodeStrict(e.Value, &s); err != nil {
			panic("card: memory that was not checked: " + err.Error())
		}
		s.Seq = uint32(e.Seq)
		l.samples, l.date = append(l.samples, s), s.At
	}
	if raw.Cut {
		l.last += snap.MostLost
	}
	c.data = l
}
