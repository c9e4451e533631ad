package num_test

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
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

func TestCompilerFusesNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("compiles the floor for two machines")
	}
	for _, env := range []string{"GOARCH=amd64 GOAMD64=v3", "GOARCH=arm64"} {
		t.Run(env, func(t *testing.T) {
			t.Parallel()
			for _, m := range fused.FindAllStringSubmatch(listing(t, env, "../..."), -1) {
				t.Errorf("%s: %s: convert the product: float64(a*b) + c", m[1], m[2])
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
	for env, want := range map[string]int{"GOARCH=amd64 GOAMD64=v3": 1, "GOARCH=arm64": 2} {
		if n := len(fused.FindAllString(listing(t, env, "."), -1)); n < want {
			t.Errorf("%s: found %d of %d fused instructions", env, n, want)
		}
	}
}

// listing is what the compiler writes for packages under env. The go command
// keeps it with the built package, so a second run costs little.
func listing(t *testing.T, env, packages string) string {
	t.Helper()
	tool, err := exec.LookPath("go")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip("no go command")
	}
	cmd := exec.Command(tool, "build", "-gcflags="+packages+"=-S", packages)
	cmd.Env = append(os.Environ(), append(strings.Fields(env), "CGO_ENABLED=0")...)
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v: %v\n%s", cmd.Args, err, out.String())
	}
	return out.String()
}

// exact are the names of package math whose results are the same on every machine.
var exact = map[string]bool{
	"Abs": true, "Sqrt": true, "Floor": true, "IsNaN": true, "IsInf": true, "Inf": true, "NaN": true,
	"Float64bits": true, "Float64frombits": true, "MaxFloat64": true, "Ln2": true, "Pi": true,
}

func TestFloorUsesExactFunctionsOnly(t *testing.T) {
	files := 0
	root := checks.Path(t, "sim", "internal", "phys")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		files++
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			if pkg, ok := sel.X.(*ast.Ident); ok && pkg.Name == "math" && !exact[sel.Sel.Name] {
				t.Errorf("%s: math.%s may differ between machines", set.Position(n.Pos()), sel.Sel.Name)
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 3 {
		t.Fatalf("saw %d files under %s", files, root)
	}
}
