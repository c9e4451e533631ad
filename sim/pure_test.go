package sim_test

import (
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"slices"
	"strings"
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

// load reads packages with their types.
func load(t *testing.T, patterns ...string) []checked {
	t.Helper()
	list, err := packages.Load(&packages.Config{
		Mode: packages.NeedName | packages.NeedFiles | packages.NeedSyntax | packages.NeedTypes | packages.NeedTypesInfo | packages.NeedImports,
	}, patterns...)
	if err != nil {
		t.Fatal(err)
	}
	if packages.PrintErrors(list) > 0 || len(list) < 4 {
		t.Fatalf("%d packages were loaded, with the errors above", len(list))
	}
	all := make([]checked, len(list))
	for i, p := range list {
		all[i] = checked{p.Fset, p.Syntax, p.TypesInfo, p.Types}
	}
	return all
}

// Physics keeps nothing between two calls.
func TestPhysicsIsPure(t *testing.T) {
	for _, c := range load(t, "./internal/phys/...") {
		for _, wrong := range impure(c) {
			t.Error(wrong)
		}
	}
}

// anyOrder are the functions of the core that go through a map, because the order
// cannot be seen.
var anyOrder = map[string]string{
	"scenario.fill": "every kid is filled by itself",
	"scenario.pick": "the names are sorted before they are shown",
}

// Neither physics nor core go through anything in an order of chance.
func TestNoMapDecidesAnOrder(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range load(t, "./internal/phys/...", "./internal/core/...") {
		for _, r := range unordered(c) {
			if seen[r.function] = true; anyOrder[r.function] == "" {
				t.Errorf("%s: a map has no order: sort its keys, or list %s in anyOrder with the reason", r.at, r.function)
			}
		}
	}
	for function := range anyOrder {
		if !seen[function] {
			t.Errorf("%s goes through no map any more: drop it from anyOrder", function)
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
	go bad()
}
`
	if got := impure(typed(t, text)); len(got) != 5 {
		t.Errorf("%d complaints, want 5: %q", len(got), got)
	}
}

func TestUnorderedIsSeen(t *testing.T) {
	const text = `package p
import (
	all "maps"
	"slices"
)
type set map[int]bool
var m = set{}
var first = func() int { for k := range m { return k }; return 0 }()
func fine() []int { for range []int{} {}; return slices.Sorted(all.Keys(m)) }
func bad() {
	for range m {
	}
	for k := range all.Keys(m) {
		_ = k
	}
	_ = slices.Collect(all.Values(m))
}
func (s set) bad() { for range s {} }
`
	var got []string
	for _, r := range unordered(typed(t, text)) {
		got = append(got, r.function)
	}
	if want := []string{"p.", "p.bad", "p.bad", "p.bad", "p.bad"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// typed is a package of one file.
func typed(t *testing.T, text string) checked {
	t.Helper()
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, "p.go", text, 0)
	if err != nil {
		t.Fatal(err)
	}
	info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Uses: map[*ast.Ident]types.Object{}, Defs: map[*ast.Ident]types.Object{}}
	pkg, err := (&types.Config{Importer: importer.Default()}).Check("p", set, []*ast.File{file}, info)
	if err != nil {
		t.Fatal(err)
	}
	return checked{set, []*ast.File{file}, info, pkg}
}

// place is a line of a function; the function is empty outside of any.
type place struct{ at, function string }

// unordered is where c goes through a map without sorting it.
func unordered(c checked) (found []place) {
	for _, file := range c.files {
		for _, decl := range file.Decls {
			name := ""
			if f, ok := decl.(*ast.FuncDecl); ok {
				name = f.Name.Name
			}
			for _, n := range c.ranges(decl) {
				found = append(found, place{c.set.Position(n.Pos()).String(), c.pkg.Name() + "." + name})
			}
		}
	}
	return found
}

// ranges is what in decl goes through a map, save what hands all keys to a sort.
func (c checked) ranges(decl ast.Decl) (found []ast.Node) {
	sorted := map[ast.Node]bool{}
	ast.Inspect(decl, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.RangeStmt:
			if isMap(c.info.TypeOf(n.X)) {
				found = append(found, n)
			}
		case *ast.CallExpr:
			switch pkg, name := c.callee(n); {
			case pkg == "slices" && strings.HasPrefix(name, "Sorted"):
				sorted[n.Args[0]] = true
			case pkg == "maps" && slices.Contains([]string{"All", "Keys", "Values"}, name) && !sorted[n]:
				found = append(found, n)
			}
		}
		return true
	})
	return found
}

// callee is the package and name of a function of a package that is called.
func (c checked) callee(call *ast.CallExpr) (pkg, name string) {
	fun := ast.Unparen(call.Fun)
	if of, ok := fun.(*ast.IndexExpr); ok {
		fun = of.X
	}
	sel, ok := fun.(*ast.SelectorExpr)
	if !ok {
		return "", ""
	}
	if f, ok := c.info.Uses[sel.Sel].(*types.Func); ok && f.Pkg() != nil {
		return f.Pkg().Path(), f.Name()
	}
	return "", ""
}

func impure(c checked) (wrong []string) {
	complain := func(n ast.Node, what string) {
		wrong = append(wrong, fmt.Sprintf("%s: %s", c.set.Position(n.Pos()), what))
	}
	for _, file := range c.files {
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
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
