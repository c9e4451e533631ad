// Package quirk is the catalogue of the ways in which a card can depart from the
// standards on request: what each does, what a correct client makes of it, where
// that is from, and which settings it has. docs/quirks.md is made of it.
//
// What a quirk does is done where it belongs: to values in core/snap, in the agent
// in face/snmp, to notifications in core/card, with sockets and time in host/serve.
package quirk
