// Package drawn has what tests draw at random be the same cases each time in CI, so that
// a change is refused for what it does and not for what was drawn beside it. Elsewhere
// they are other cases each time. Tests that draw import it for that alone.
package drawn

import (
	"flag"
	"os"

	_ "pgregory.net/rapid" // whose flags these are
)

// init comes before the command line is read, which has the last word.
func init() {
	if os.Getenv("CI") == "" {
		return
	}
	if err := flag.Set("rapid.seed", "7"); err != nil {
		panic(err)
	}
}
