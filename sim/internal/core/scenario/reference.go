package scenario

import (
	_ "embed"
	"fmt"
	"reflect"
	"strings"

	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/expect"
)

//go:embed reference.md
var referenceText string

// Reference is docs/scenario.md: the prose of reference.md, with each line of
// the form {{name}} replaced by what the schema and the expression language say
// about themselves.
func Reference() string {
	parts := map[string]func() string{
		"keys": keyTables, "blocks": blockTable, "variables": variableTable, "limits": limitList,
	}
	var out strings.Builder
	for line := range strings.Lines(referenceText) {
		name, ok := strings.CutPrefix(strings.TrimSpace(line), "{{")
		if part := parts[strings.TrimSuffix(name, "}}")]; ok && part != nil {
			line = part()
		}
		out.WriteString(line)
	}
	return out.String()
}

func keyTables() string {
	var out strings.Builder
	writeTable(&out, "### The file itself", "Keys before the first table.", reflect.TypeFor[file]())
	for _, f := range fieldsOf(reflect.TypeFor[file]()) {
		if t, many, ok := tableOf(f.typ); ok {
			heading := "### [" + f.key + "]"
			if many {
				heading = "### [[" + f.key + "]]"
			}
			writeTable(&out, heading, f.tag.Get("doc"), t)
			writeSubTables(&out, f.key, t)
		}
	}
	return strings.TrimSuffix(out.String(), "\n")
}

func writeSubTables(out *strings.Builder, path string, t reflect.Type) {
	for _, f := range fieldsOf(t) {
		if sub, _, ok := tableOf(f.typ); ok && !ofTheFile(sub) {
			writeTable(out, "#### "+path+"."+f.key, f.tag.Get("doc"), sub)
		}
	}
}

// ofTheFile says whether a table has a section of its own.
func ofTheFile(t reflect.Type) bool {
	for _, f := range fieldsOf(reflect.TypeFor[file]()) {
		if top, _, ok := tableOf(f.typ); ok && top == t {
			return true
		}
	}
	return false
}

// tableOf is the schema struct behind a field of type T, *T or []T.
func tableOf(t reflect.Type) (table reflect.Type, many, ok bool) {
	many = t.Kind() == reflect.Slice
	if many || t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	return t, many, isTable(t)
}

func writeTable(out *strings.Builder, heading, doc string, t reflect.Type) {
	fmt.Fprintf(out, "%s\n\n%s\n\n| key | value | default | meaning |\n| --- | --- | --- | --- |\n", heading, doc)
	for _, f := range fieldsOf(t) {
		if _, _, ok := tableOf(f.typ); ok && t == reflect.TypeFor[file]() {
			continue // has a section of its own
		}
		fmt.Fprintf(out, "| `%s` | %s | %s | %s |\n", f.key, cell(shown(f)), cell(defaultText(f)), cell(f.tag.Get("doc")))
	}
	out.WriteString("\n")
}

// shown is what a value must be, without the "a" that messages need.
func shown(f field) string {
	switch text := wants(f); {
	case f.typ.Kind() == reflect.Slice && f.typ.Elem().Kind() != reflect.String:
		return "a list of tables"
	default:
		return strings.TrimPrefix(text, "a ")
	}
}

func defaultText(f field) string {
	if f.tag.Get("need") != "" {
		return "must be given"
	}
	if auto := f.tag.Get("auto"); auto != "" {
		return auto
	}
	def, ok := f.tag.Lookup("def")
	switch {
	case !ok && f.typ.Kind() == reflect.Struct:
		return "the defaults of its keys"
	case !ok:
		return "none"
	case def == "":
		return "`\"\"`"
	}
	if v := defaultValue(def, f.typ); reflect.TypeOf(v).Kind() == reflect.String {
		return "`\"" + def + "\"`"
	}
	return "`" + def + "`"
}

// cell keeps a text inside its cell.
func cell(s string) string { return strings.ReplaceAll(s, "|", "\\|") }

func blockTable() string {
	var out strings.Builder
	out.WriteString("| block | 20-hour capacity | error of the runtime: median, worst | |\n| --- | --- | --- | --- |\n")
	for _, b := range blocks.All() {
		errs := "unknown"
		if b.Origin == blocks.Fitted {
			errs = fmt.Sprintf("%.1f %%, %.1f %%", b.MedianPct, b.WorstPct)
		}
		fmt.Fprintf(&out, "| `%s` | %.3g Ah | %s | %s |\n", b.Name, b.CapacityAh, errs, cell(b.Note))
	}
	return out.String()
}

func variableTable() string {
	var out strings.Builder
	out.WriteString("| variable | kind | meaning |\n| --- | --- | --- |\n")
	for _, v := range expect.Variables() {
		doc := v.Doc
		if len(v.Words) > 0 {
			doc += ": " + oneOf(v.Words)
		}
		fmt.Fprintf(&out, "| `%s` | %s | %s |\n", v.Name, v.Kind, cell(doc))
	}
	return out.String()
}

func limitList() string {
	return fmt.Sprintf("- file: %d bytes, a line: %d bytes, keys and values: %d, nesting: %d, a key: %d bytes\n"+
		"- a condition: %d bytes; different conditions in one file: %d\n",
		maxBytes, maxLine, maxValues, maxDepth, maxKey, expect.MaxText, expect.MaxConditions)
}
