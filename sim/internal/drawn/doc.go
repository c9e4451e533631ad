// Package drawn has what tests draw at random be the same cases each time in CI, so that
// a change is refused for what it does and not for what was drawn beside it. Elsewhere
// they are other cases each time. Tests that draw import it for that alone.
package drawn
