package snap

import "ridethrough/sim/internal/core/vtime"

// JournalKind tells the journals of a card apart. Each has a bound of its own, so
// that what fills one takes nothing out of the other.
type JournalKind uint8

// Journals.
const (
	JournalSystem JournalKind = iota // what became of the card, and who did what to it
	JournalEvents                    // what became of the supply, the unit and the surroundings

	// JournalKinds is the number of journals.
	JournalKinds = 2
)

// String is the journal's word.
func (k JournalKind) String() string { return nameOf([]string{"system", "events"}, int(k)) }

// JournalByName is the journal with that word.
func JournalByName(name string) (JournalKind, bool) {
	for k := range JournalKind(JournalKinds) {
		if k.String() == name {
			return k, true
		}
	}
	return 0, false
}

// JournalEntry is one line of a card's journals.
type JournalEntry struct {
	Seq  uint32 // rises over both journals, never reused: the order, whatever the clock showed
	Kind JournalKind
	Tick vtime.Tick // of this session; 0 for what is older
	At   Stamp      // what the card's clock showed
	Text string
}

// Entries are those that a journal keeps, oldest first, and how many were there
// before them and are lost.
func (c *Card) Entries(k JournalKind) (kept []JournalEntry, lost uint32) {
	for _, e := range c.Journal {
		if e.Kind == k {
			kept = append(kept, e)
		}
	}
	more := max(0, len(kept)-c.Settings.Upkept().Entries(k))
	return kept[more:], c.Lost[k] + uint32(more)
}

// BothJournals are the entries that the journals keep, in their order, and how
// many are lost.
func (c *Card) BothJournals() (kept []JournalEntry, lost uint32) {
	var from [JournalKinds]uint32 // the first number that each keeps
	total := 0
	for k := range JournalKind(JournalKinds) {
		list, gone := c.Entries(k)
		lost += gone
		if total += len(list); len(list) > 0 {
			from[k] = list[0].Seq
		}
	}
	kept = make([]JournalEntry, 0, total)
	for _, e := range c.Journal {
		if e.Seq >= from[e.Kind] {
			kept = append(kept, e)
		}
	}
	return kept, lost
}
