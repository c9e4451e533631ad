package card

import (
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
	at      vtime.Tick // of the last entry; before tick 0 if it is of another life
}

func (l *dataLog) seq() uint32 {
	if l == nil {
		return 0
	}
	return l.last
}

func (l *dataLog) view() *snap.DataLog {
	if l == nil {
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

// SampleDue says whether the card logs its readings at now.
func (c *Card) SampleDue(now vtime.Tick) bool {
	every := c.inForce.Upkept().DataEvery
	return c.Running() && every > 0 && now%every == 0 && (c.data == nil || c.data.at != now)
}

// Sample logs what d reads. Entries that were handed out never change: appending
// writes behind them, cutting copies.
func (c *Card) Sample(now vtime.Tick, d *snap.Device) {
	if c.data == nil {
		c.data = &dataLog{}
	}
	l, keeps := c.data, c.inForce.Upkept().DataEntries
	if n := len(l.samples); n >= 2*keeps {
		l.lost += uint32(n - keeps)
		l.samples = append(make([]snap.Sample, 0, 2*keeps), l.samples[n-keeps:]...)
	}
	s := snap.SampleOf(d)
	l.last++
	s.Seq, l.at = l.last, now
	l.samples = append(l.samples, s)
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
			c.data = &dataLog{at: -1, last: c.kept.DataNumbers}
		}
		return
	}
	l := &dataLog{at: -1, last: uint32(list[len(list)-1].Seq), lost: uint32(max(0, int64(list[0].Seq)-1-int64(c.kept.DataNumbers)))}
	for _, e := range list {
		var s snap.Sample
		if err := snap.DecodeStrict(e.Value, &s); err != nil {
			panic("card: memory that was not checked: " + err.Error())
		}
		s.Seq = uint32(e.Seq)
		l.samples = append(l.samples, s)
	}
	if raw.Cut {
		l.last += snap.MostLost
	}
	c.data = l
}
