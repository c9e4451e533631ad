// Package termtest is a card for tests of its terminals: a snap.Source without
// an engine behind it.
package termtest
