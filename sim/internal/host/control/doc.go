// Package control is the bench's own door: HTTP on a loopback port of its own,
// never visible through the card. Everything but the question whether the
// simulator is ready needs the token of the run.
package control
