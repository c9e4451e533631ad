package site

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strings"
	"testing"
)

// Whatever a scenario can ask for is done: there are as many acts as kinds of actions.
func TestEveryActionHasAnAct(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "../plan/timeline.go", nil, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	kinds := 0
	ast.Inspect(file, func(n ast.Node) bool {
		if v, ok := n.(*ast.ValueSpec); ok && strings.HasPrefix(v.Names[0].Name, "Act") {
			kinds++
		}
		return true
	})
	if kinds == 0 || kinds != len(acts) {
		t.Errorf("%d kinds of actions, %d acts", kinds, len(acts))
	}
	for k, act := range acts {
		if act == nil {
			t.Errorf("action %d does nothing", k)
		}
	}
}
