package fleet

// Keeper keeps how often the cards of devices have started, over sessions. It is
// safe for concurrent use.
type Keeper interface {
	// Keep takes that the card of device n, counted from 1, starts for the boots-th
	// time. It does not wait. The ticket is more than 0 and rises.
	Keep(n int, boots uint32) (ticket uint64)
	// Wait returns once everything up to that ticket is kept, or never will be.
	Wait(ticket uint64)
}

// keep has the keeper keep another start of the card.
func (u *unit) keep() {
	k := u.shard.fleet.keeper
	if boots := u.engine.Boots(); k != nil && boots != u.boots {
		u.boots = boots
		u.ticket = k.Keep(int(u.number), boots)
	}
}

// kept waits until nobody can hear of a start that might be forgotten. A card
// takes longer to boot than a disk to write, so that it hardly ever waits.
func (u *unit) kept() {
	if u.ticket != 0 {
		u.shard.fleet.keeper.Wait(u.ticket)
		u.ticket = 0
	}
}
