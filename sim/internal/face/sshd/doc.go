// Package sshd is the card's SSH surface: the menu behind a password, or one
// word that only reads on the command line.
//
// It wraps gliderlabs/ssh. Each of that library's sharp edges is covered where
// it cuts: window changes are drained, panics are confined to their connection,
// the user name that is checked is the one that is signed in, and a menu has an
// idle time-out of its own, which a client's keep-alives do not feed.
//
// While its card does not answer, a connection is closed without a word.
package sshd
