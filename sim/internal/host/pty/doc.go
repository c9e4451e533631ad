// Package pty gives a card its serial line: a pseudo-terminal behind a stable
// symbolic link, on which any terminal program or serial library can sign in.
//
// The line behaves as one plug: whenever somebody opens or closes it, the
// session on it ends, so that nobody inherits another's sign-in or reads what
// was meant for another. Nothing is shown before the first line end, and nothing
// at all while the card does not run. What a client left unread is forgotten as
// soon as the card notices that it closed the line; who opens it in that very
// moment may still read some of it, and should empty its input as terminal
// programs do. The card's settings can have it otherwise: that the session stays when
// the line is closed, and that others are refused while somebody is signed in, as far
// as the system refuses (TIOCEXCL: not root). Only Linux is supported; elsewhere [Open]
// fails with [ErrUnsupported].
package pty
