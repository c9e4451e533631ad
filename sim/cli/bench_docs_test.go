package cli

import (
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/host/control"
	"ridethrough/sim/internal/host/serve"
)

// section is the part of a page under a heading of the second level; before the first
// one if heading is empty.
func section(t *testing.T, page, heading string) string {
	t.Helper()
	text, err := os.ReadFile(docs(page))
	if err != nil {
		t.Fatal(err)
	}
	_, rest, found := strings.Cut(string(text), "\n## "+heading+"\n")
	if heading == "" {
		rest, found = string(text), true
	}
	if !found {
		t.Fatalf("docs/%s has no %s", page, heading)
	}
	part, _, _ := strings.Cut(rest, "\n## ")
	return part
}

// fieldsOf lists the JSON names of a struct, then those of the structs in it that were
// not listed before, as the page does.
func fieldsOf(t reflect.Type, listed map[reflect.Type]bool) (names []string) {
	names, inner := ownFields(t)
	for _, typ := range inner {
		if !listed[typ] {
			listed[typ] = true
			names = append(names, fieldsOf(typ, listed)...)
		}
	}
	return names
}

// ownFields are the JSON names of a struct, those of embedded ones among them, and the
// structs that these hold.
func ownFields(t reflect.Type) (names []string, inner []reflect.Type) {
	for f := range fields(t) {
		if f.Anonymous {
			more, within := ownFields(f.Type)
			names, inner = append(names, more...), append(inner, within...)
			continue
		}
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		names = append(names, name)
		typ := f.Type
		if typ.Kind() == reflect.Slice {
			typ = typ.Elem()
		}
		if typ.Kind() == reflect.Struct {
			inner = append(inner, typ)
		}
	}
	return names, inner
}

func fields(t reflect.Type) func(func(reflect.StructField) bool) {
	return func(yield func(reflect.StructField) bool) {
		for i := range t.NumField() {
			if !yield(t.Field(i)) {
				return
			}
		}
	}
}

var row = regexp.MustCompile("(?m)^\\| `([^`]+)` \\|")

func rowsOf(text string) (names []string) {
	for _, m := range row.FindAllStringSubmatch(text, -1) {
		names = append(names, m[1])
	}
	return names
}

// docs/json.md names exactly the fields of what the bench shows.
func TestBenchFieldsAreDocumented(t *testing.T) {
	for heading, v := range map[string]any{
		"Ready record": serve.Ready{}, "State": control.State{},
		"Ready record of a fleet": serve.FleetReady{}, "State of a fleet": control.FleetState{},
		"Clock": control.Clock{}, "Reached": control.Reached{}, "Observations": control.Observations{}, "Verdict": control.Verdict{},
	} {
		if diff := cmp.Diff(fieldsOf(reflect.TypeOf(v), map[reflect.Type]bool{}), rowsOf(section(t, "json.md", heading))); diff != "" {
			t.Errorf("%s (-program +docs/json.md):\n%s", heading, diff)
		}
	}
}

// docs/bench.md names exactly the variables that PROGRAM gets.
func TestEnvironmentIsDocumented(t *testing.T) {
	_, _, stderr := command(t.Context(), "serve", "--quiet", "--", "env")
	var got []string
	for _, line := range strings.Split(stderr, "\n") {
		if name, _, ok := strings.Cut(line, "="); ok && strings.HasPrefix(name, "RIDETHROUGH_") && name != "RIDETHROUGH_RUN" {
			got = append(got, name)
		}
	}
	want := rowsOf(section(t, "bench.md", "Environment"))
	slices.Sort(got)
	slices.Sort(want)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("variables (-docs/bench.md +program):\n%s\n%s", diff, stderr)
	}
}
