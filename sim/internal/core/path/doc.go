// Package path tells whether packets pass between the card and another machine of
// the site, and if not why: from the addresses, masks and gateways of both, the
// router of the card's network, and the switches on the way. It knows nothing of
// how any of them came about.
//
// The site's network is a segment on which the card hangs, with one router, and
// everything behind that router. Switches form a tree whose root, the core, is
// always there. A machine answers to the hardware address of whoever asks, so
// that a wrong mask harms only the side that has it.
package path
