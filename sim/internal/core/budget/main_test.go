package budget_test

import (
	"flag"
	"os"
	"testing"
)

// TestMain has CI draw fewer sites: each is played many times.
func TestMain(m *testing.M) {
	flag.Parse()
	if checks := flag.Lookup("rapid.checks"); os.Getenv("CI") != "" && checks.Value.String() == checks.DefValue {
		checks.Value.Set("60")
	}
	os.Exit(m.Run())
}
