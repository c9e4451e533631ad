package card

import (
	"reflect"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Level is how far a reset to the factory's state goes. A higher one takes in
// what the lower ones do. The card's identity, its boots and the numbering of
// its journal stay at every level.
type Level uint8

// Levels.
const (
	ResetSettings Level = 1 + iota // settings
	ResetAccounts                  // accounts too
	ResetAll                       // journals and keys too
)

var levelNames = []string{"settings", "accounts", "all"}

// LevelByName is the level with that name; ok is false if there is none.
func LevelByName(name string) (l Level, ok bool) {
	for i, n := range levelNames {
		if n == name {
			return Level(i) + ResetSettings, true
		}
	}
	return 0, false
}

// String is the name of l.
func (l Level) String() string { return levelNames[l-ResetSettings] }

// Dropped are the sections of a memory that a reset to l takes out.
func Dropped(l Level) (names []string) {
	for i := range sections {
		if s := &sections[i]; s.reset != 0 && s.reset <= l {
			names = append(names, s.name)
		}
	}
	if l == ResetAll {
		names = append(names, HostKeySection)
	}
	return names
}

// Reset puts the memory back to the factory's state, as far as level goes, and
// restarts the card: the settings come into force with that.
func (c *Card) Reset(now vtime.Tick, by snap.Actor, level Level) {
	fresh := c.fresh()
	for i := range sections {
		if s := &sections[i]; s.reset != 0 && s.reset <= level {
			reflect.ValueOf(s.at(&c.kept)).Elem().Set(reflect.ValueOf(s.at(&fresh)).Elem())
			c.changed(s.at(&c.kept))
		}
	}
	if level == ResetAll {
		c.dropPosts(now, "reset")
		c.journal.empty()
		c.emptyData()
		c.changes.dropped = append(c.changes.dropped, HostKeySection)
		c.NewHostKey(now, "by the reset")
	}
	text := "reset of " + level.String() + " to the factory's state by " + who(by)
	c.note("card", text)
	c.journal.add(now, text)
	c.hearLast(now, snap.EventReset, text)
	c.Restart(now)
}
