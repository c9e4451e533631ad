package checks

import (
	"fmt"
	"os"
	"testing"
	"time"

	"go.uber.org/goleak"
)

// settles is how long goroutines may take to end once they have been told to: the library
// gives them less than half a second, which a busy machine needs for itself.
const settles = 30 * time.Second

// NoLeaks fails t if a goroutine goes on that should have ended.
func NoLeaks(t testing.TB, options ...goleak.Option) {
	t.Helper()
	if err := leaks(options...); err != nil {
		t.Error(err)
	}
}

// Main runs the tests of a package, which fail if a goroutine goes on behind them.
func Main(m *testing.M) {
	code := m.Run()
	if code == 0 {
		if err := leaks(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = 1
		}
	}
	os.Exit(code)
}

func leaks(options ...goleak.Option) (err error) {
	for deadline := time.Now().Add(settles); time.Now().Before(deadline); {
		if err = goleak.Find(options...); err == nil {
			return nil
		}
	}
	return err
}
