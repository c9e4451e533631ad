package sim_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"testing"

	"golang.org/x/tools/go/packages"
)

// checked is one package with its types.
type checked struct {
	set   *token.FileSet
	files []*ast.File
	info  *types.Info
	pkg   *types.Package
}

// Physics keeps nothing between two calls and goes through nothing in an order
// of chance.
func TestPhysicsIsPure(t *testing.T) {
	list, err := packages.Load(&packages.Config{
		Mode: packages.NeedName | packages.NeedFiles | packages.NeedSyntax | packages.NeedTypes |
			packages.NeedTypesInfo | packages.NeedImports | packages.NeedDeps,
	}, "./internal/phys/...")
	if err != nil {
		t.Fatal(err)
	}
	if packages.PrintErrors(list) > 0 || len(list) < 4 {
		t.Fatalf("%d packages were loaded, with the errors above", len(list))
	}
	for _, p := range list {
		for _, wrong := range impure(checked{p.Fset, p.Syntax, p.TypesInfo, p.Types}) {
			t.Error(wrong)
		}
	}
}

func TestImpurityIsSeen(t *testing.T) {
	const text = `package p
var table = [...]float64{1, 2}
var m = map[int]int{}
type s struct{ n int }
var v s
func read() float64 { return table[0] }
func local() { var v s; v.n = 1; table := [1]int{}; table[0]++ }
func bad() {
	table[0] = 3
	v.n++
	(v).n += 2
	p := &table
	_ = p
	delete(m, 1)
	for range m {
	}
	go bad()
}
`
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, "p.go", text, 0)
	if err != nil {
		t.Fatal(err)
	}
	info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Uses: map[*ast.Ident]types.Object{}, Defs: map[*ast.Ident]types.Object{}}
	pkg, err := (&types.Config{}).Check("p", set, []*ast.File{file}, info)
	if err != nil {
		t.Fatal(err)
	}
	if got := impure(checked{set, []*ast.File{file}, info, pkg}); len(got) != 6 {
		t.Errorf("%d complaints, want 6: %q", len(got), got)
	}
}

func impure(c checked) (wrong []string) {
	complain := func(n ast.Node, what string) {
		wrong = append(wrong, fmt.Sprintf("%s: %s", c.set.Position(n.Pos()), what))
	}
	for _, file := range c.files {
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.RangeStmt:
				if isMap(c.info.TypeOf(n.X)) {
					complain(n, "a map has no order")
				}
			case *ast.CallExpr:
				if id, ok := n.Fun.(*ast.Ident); ok && id.Name == "delete" && c.isGlobal(n.Args[0]) {
					complain(n, "a package variable is changed")
				}
			case *ast.AssignStmt:
				for _, left := range n.Lhs {
					if c.isGlobal(left) {
						complain(n, "a package variable is changed")
					}
				}
			case *ast.IncDecStmt:
				if c.isGlobal(n.X) {
					complain(n, "a package variable is changed")
				}
			case *ast.UnaryExpr:
				if n.Op == token.AND && c.isGlobal(n.X) {
					complain(n, "the address of a package variable lets it be changed")
				}
			}
			return true
		})
	}
	return wrong
}

func isMap(t types.Type) bool {
	if t == nil {
		return false
	}
	_, ok := t.Underlying().(*types.Map)
	return ok
}

// isGlobal says whether e is a variable of the package, or lies inside one.
func (c checked) isGlobal(e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.Ident:
		v, ok := c.info.Uses[e].(*types.Var)
		return ok && v.Parent() == c.pkg.Scope()
	case *ast.IndexExpr:
		return c.isGlobal(e.X)
	case *ast.SelectorExpr:
		return c.isGlobal(e.X)
	case *ast.ParenExpr:
		return c.isGlobal(e.X)
	case *ast.StarExpr:
		return c.isGlobal(e.X)
	}
	return false
}
