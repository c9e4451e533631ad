package sim_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"ridethrough/sim/internal/checks"
)

// fused matches a fused multiply-add in a compiler listing: VFMADD231SD and
// kin on amd64, FMADDD, FMSUBD, FNMADDD and FNMSUBD on arm64.
var fused = regexp.MustCompile(`\((\S+\.go:\d+)\)\s+(VFN?M(?:ADD|SUB)\w*|FN?M(?:ADD|SUB)[DS])\b`)

// fusing are machines whose compilers fuse where the language lets them.
var fusing = []string{"GOARCH=amd64 GOAMD64=v3", "GOARCH=arm64"}

// A fused multiply-add rounds once instead of twice: the same run would differ
// between machines.
func TestCompilerFusesNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("compiles two floors for two machines")
	}
	for _, env := range fusing {
		t.Run(env, func(t *testing.T) {
			for _, m := range fused.FindAllStringSubmatch(listing(t, env, "./internal/phys/...", "./internal/core/..."), -1) {
				t.Errorf("%s: %s: convert the product, float64(a*b) + c; x/2 is a product too, and may come from a caller in another package", m[1], m[2])
			}
		})
	}
}

// The check above is worth nothing if the pattern misses what compilers write.
func TestFusionIsRecognised(t *testing.T) {
	if testing.Short() {
		t.Skip("compiles a file for two machines")
	}
	dir := t.TempDir()
	src := "package p\n\nfunc F(a, b, c float64) float64 { return a*b + c }\n\nfunc G(a, b, c float64) float64 { return c - a*b }\n"
	for name, text := range map[string]string{"p.go": src, "go.mod": "module ridethrough/p\n\ngo 1.26\n"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(dir)
	// The compiler for amd64 leaves the subtraction alone.
	for env, want := range map[string]int{fusing[0]: 1, fusing[1]: 2} {
		if n := len(fused.FindAllString(listing(t, env, "."), -1)); n < want {
			t.Errorf("%s: found %d of %d fused instructions", env, n, want)
		}
	}
}

// listing is what the compiler writes for packages under env. The go command
// keeps it with the built package, so a second run costs little.
func listing(t *testing.T, env string, packages ...string) string {
	t.Helper()
	args := []string{"build"}
	for _, p := range packages {
		args = append(args, "-gcflags="+p+"=-S")
	}
	cmd := exec.Command(checks.Program(t, "go"), append(args, packages...)...)
	cmd.Env = append(os.Environ(), append(strings.Fields(env), "CGO_ENABLED=0")...)
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v: %v\n%s", cmd.Args, err, complaints(out.String()))
	}
	if !strings.Contains(out.String(), "STEXT") {
		t.Fatalf("%v lists nothing", cmd.Args)
	}
	return out.String()
}

// complaints is a listing without the code: what the compiler had to say.
func complaints(listing string) string {
	var b strings.Builder
	for line := range strings.Lines(listing) {
		if where := strings.IndexByte(line, ':'); where > 0 && strings.HasSuffix(line[:where], ".go") {
			b.WriteString(line)
		}
	}
	return b.String()
}
