package card

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// journal is the card's two journals in one list, in the order of their numbers.
// It holds up to twice what each keeps. Entries that were handed out never
// change: appending writes behind them, cutting copies.
type journal struct {
	entries  []snap.JournalEntry
	seq      uint32
	told     [snap.JournalKinds]bool // that entries are lost
	emptied  bool                    // since the host was last told
	clock    *snap.Clock
	settings *snap.Settings // in force; nil: those of the factory

	count [snap.JournalKinds]uint32 // entries that each has had
	held  [snap.JournalKinds]uint32 // how many of them are in the list
}

// add notes what became of the card, or what somebody did to it.
func (j *journal) add(now vtime.Tick, text string) { j.put(now, snap.JournalSystem, text) }

// event notes what became of the supply, the unit or the surroundings.
func (j *journal) event(now vtime.Tick, text string) { j.put(now, snap.JournalEvents, text) }

func (j *journal) put(now vtime.Tick, k snap.JournalKind, text string) {
	j.cut(k)
	j.seq++
	e := snap.JournalEntry{Seq: j.seq, Kind: k, Tick: now, Text: text}
	if j.clock != nil {
		e.At = j.clock.Stamp(now)
	}
	j.entries = append(j.entries, e)
	j.count[k]++
	j.held[k]++
	if int(j.held[k]) > j.keeps(k) && !j.told[k] {
		j.told[k] = true
		j.tellLoss(now, k)
	}
}

// tellLoss says, the first time, that a journal is full.
func (j *journal) tellLoss(now vtime.Tick, k snap.JournalKind) {
	for _, e := range j.entries {
		if e.Kind == k {
			j.add(now, fmt.Sprintf("journal %s is full: entry %d is the first that is lost, each new one takes the oldest with it", k, e.Seq))
			return
		}
	}
}

// keeps is how many entries a journal keeps.
func (j *journal) keeps(k snap.JournalKind) int {
	if j.settings == nil {
		return new(snap.Settings).Upkept().Entries(k)
	}
	return j.settings.Upkept().Entries(k)
}

// cut takes out what is too much once journal k holds twice what it keeps.
func (j *journal) cut(k snap.JournalKind) {
	if int(j.held[k]) < 2*j.keeps(k) {
		return
	}
	var drop [snap.JournalKinds]uint32
	left := 0
	for k := range drop {
		drop[k] = uint32(max(0, int(j.held[k])-j.keeps(snap.JournalKind(k))))
		j.held[k] -= drop[k]
		left += int(j.held[k])
	}
	kept := make([]snap.JournalEntry, 0, 2*left)
	for _, e := range j.entries {
		if drop[e.Kind] > 0 {
			drop[e.Kind]--
			continue
		}
		kept = append(kept, e)
	}
	j.entries = kept
}

// lost counts what each journal does not hold any more.
func (j *journal) lost() (lost [snap.JournalKinds]uint32) {
	for k := range lost {
		lost[k] = j.count[k] - j.held[k]
	}
	return lost
}

// empty takes all entries out. The numbers go on.
func (j *journal) empty() {
	*j = journal{seq: j.seq, clock: j.clock, settings: j.settings, emptied: true}
}

// wipe loses what both hold, and says how much that was. They count it as lost.
func (j *journal) wipe() (lost uint32) {
	for k := range j.held {
		lost += j.held[k]
	}
	j.entries, j.emptied = nil, j.emptied || lost > 0
	j.held, j.told = [snap.JournalKinds]uint32{}, [snap.JournalKinds]bool{}
	return lost
}

// forgetJournals is a start of a card whose journals do not outlive it.
func (c *Card) forgetJournals(now vtime.Tick) {
	last := c.journal.seq
	if !c.cfg.Forgets {
		return
	}
	if lost := c.journal.wipe(); lost > 0 {
		c.note("card", fmt.Sprintf("its journals are empty: %d entries are lost", lost))
		c.journal.add(now, fmt.Sprintf("the journals do not outlive a restart: %d entries are lost, up to number %d", lost, last))
	}
}

func (j *journal) addAlarm(now vtime.Tick, k snap.AlarmKind, added bool) {
	word := " cleared"
	if added {
		word = " raised"
	}
	j.event(now, "alarm "+k.String()+word)
}
