package menu

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
)

// docs/json.md names every word that has data, and every field that the code of this
// package can write.
func TestDataIsDocumented(t *testing.T) {
	page, err := os.ReadFile("../../../../docs/json.md")
	if err != nil {
		t.Fatal(err)
	}
	var part strings.Builder
	for _, heading := range []string{"Card: `ssh CARD WORD --json`", "Relay outputs: `ssh CARD relays --json`", "Probes: `ssh CARD probes --json`", "Firmware: `ssh CARD firmware --json`"} {
		_, rest, found := strings.Cut(string(page), "\n## "+heading+"\n")
		if !found {
			t.Fatalf("docs/json.md has no %s", heading)
		}
		text, _, _ := strings.Cut(rest, "\n## ")
		part.WriteString("`" + strings.Fields(heading)[3] + "`" + text)
	}
	for _, w := range words {
		if w.data != nil && !strings.Contains(part.String(), "`"+w.name+"`") {
			t.Errorf("docs/json.md does not name the word %s", w.name)
		}
	}
	names := written(t)
	if len(names) < 100 {
		t.Errorf("found %d fields only", len(names))
	}
	for name, file := range names {
		if !strings.Contains(part.String(), "`"+name+"`") {
			t.Errorf("docs/json.md does not name the field %s of %s", name, file)
		}
	}
}

// written are the JSON names of all fields of structs, and the keys of all maps to
// any, each with its file.
func written(t *testing.T) map[string]string {
	t.Helper()
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]string{}
	for _, path := range files {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			for _, name := range namesIn(n) {
				names[name] = path
			}
			return true
		})
	}
	return names
}

func namesIn(n ast.Node) (names []string) {
	switch n := n.(type) {
	case *ast.Field:
		if n.Tag == nil {
			return nil
		}
		tag, _ := strconv.Unquote(n.Tag.Value)
		if name, _, _ := strings.Cut(reflect.StructTag(tag).Get("json"), ","); name != "" {
			names = append(names, name)
		}
	case *ast.CompositeLit:
		if m, ok := n.Type.(*ast.MapType); !ok || !isAny(m.Value) {
			return nil
		}
		for _, e := range n.Elts {
			if pair, ok := e.(*ast.KeyValueExpr); ok {
				names = append(names, texts(pair.Key)...)
			}
		}
	case *ast.AssignStmt: // doc["name"] = ...
		for _, left := range n.Lhs {
			if at, ok := left.(*ast.IndexExpr); ok {
				names = append(names, texts(at.Index)...)
			}
		}
	}
	return names
}

func isAny(e ast.Expr) bool {
	name, ok := e.(*ast.Ident)
	return ok && name.Name == "any"
}

func texts(e ast.Expr) []string {
	if lit, ok := e.(*ast.BasicLit); ok && lit.Kind == token.STRING {
		text, _ := strconv.Unquote(lit.Value)
		return []string{text}
	}
	return nil
}
