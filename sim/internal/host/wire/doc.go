// Package wire is the card's link for real packets: it says which of them get lost and how
// late the others are, as the simulated link carries at the time, and counts them for the
// engine. What befalls the n-th packet of a kind follows from the seed alone, unless the
// link loses more in bursts: whether one comes in a burst is a matter of real time.
package wire
