package card

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// journalKeeps is how many entries survive when the journal is cut; it holds up
// to twice as many.
const journalKeeps = 256

// journal is the card's own event list. Entries that were handed out never
// change: appending writes behind them, cutting copies.
type journal struct {
	entries []snap.JournalEntry
	seq     uint32
	clock   *snap.Clock
}

func (j *journal) add(now vtime.Tick, text string) {
	if n := len(j.entries); n >= 2*journalKeeps {
		j.entries = append(make([]snap.JournalEntry, 0, 2*journalKeeps), j.entries[n-journalKeeps:]...)
	}
	j.seq++
	e := snap.JournalEntry{Seq: j.seq, Tick: now, Text: text}
	if j.clock != nil {
		e.At = j.clock.Stamp(now)
	}
	j.entries = append(j.entries, e)
}

func (j *journal) addAlarm(now vtime.Tick, k snap.AlarmKind, added bool) {
	if added {
		j.add(now, "alarm "+k.String()+" raised")
		return
	}
	j.add(now, "alarm "+k.String()+" cleared")
}
