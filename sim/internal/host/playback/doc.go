// Package playback serves a bundle as it was recorded: an SNMP agent in the place of
// the card, which answers with each reading from its time on and is silent in gaps,
// and the notifications at their times.
package playback
