// Package menu is the dialog that a technician has with the card over serial
// and SSH: sign in, read, edit settings, save, restart. It is driven by words,
// each prompt explains itself when asked with "?".
//
// The menu is a pure machine: [State] is a plain value, [State.Line] takes what
// was typed and the card's present [View] and returns the next state and an
// [Output]. A command for the engine travels in the Output; the caller submits
// it and hands the result to [State.Answer]. Terminals, time-outs and line ends
// are face/term's business.
package menu
