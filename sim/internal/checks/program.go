package checks

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// Program is the path of a program of the machine, from PATH or of those for
// administrators; see [Lacks] for one that is not there.
func Program(t testing.TB, name string) string {
	t.Helper()
	for _, called := range []string{name, filepath.Join("/usr/sbin", name)} {
		if path, err := exec.LookPath(called); err == nil {
			return path
		}
	}
	Lacks(t, "needs %s, which is not installed", name)
	return ""
}

// Lacks skips a test for what this machine does not have. In CI, which has to have
// everything, the test fails instead.
func Lacks(t testing.TB, format string, args ...any) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatalf(format, args...)
	}
	t.Skipf(format, args...)
}
