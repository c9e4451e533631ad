// Package snap is what the simulator shows of itself at one tick: [Device],
// which is all that a card's surfaces may know; [Site], which adds the truth
// that only the bench sees; the [Command]s that may be put to it; and
// [Source], through which the surfaces read and ask.
//
// Every value is in the physical unit that its name or comment gives. Scaling
// and rounding for a protocol belong to the table of card variables in
// face/model, nowhere else.
package snap
