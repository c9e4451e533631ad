package num_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	"ridethrough/sim/internal/checks"
)

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
