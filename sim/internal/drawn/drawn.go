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
