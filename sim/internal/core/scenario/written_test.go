package scenario

import (
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/plan"
)

const two = `title = "two"
run_for = "10m"
[ups]
transfer = "8ms"
bypass = { fitted = true,
  low_v = 200 }
[[host]]
name = "a"
draw_w = 1
[[host]]
name = "b"
draw_w = 2
[[variant]]
name = "more"
why = "x"
set = { "host.b.hold_up" = "5ms", "battery.series" = 8 }
`

func TestWritten(t *testing.T) {
	for variant, want := range map[string]map[string]int{
		"":     {"ups.transfer": 4, "ups.bypass": 5, "ups.bypass.low_v": 6, "host.1.draw_w": 9, "host.2.draw_w": 12, "host.2.hold_up": 0, "battery.series": 0},
		"more": {"ups.transfer": 4, "host.2.hold_up": 16, "battery.series": 16},
	} {
		keys, err := Written("two.toml", []byte(two), Options{Variant: variant})
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]int{}
		for key := range want {
			got[key] = keys[key]
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%q (-want +got):\n%s", variant, diff)
		}
	}
}

// TestOriginsNameKeys: the keys that plan's table of origins names are in the schema.
func TestOriginsNameKeys(t *testing.T) {
	for _, o := range plan.Origins() {
		for key := range strings.SplitSeq(o.Keys, "|") {
			for _, i := range []string{"1", "2"} { // of a mode, too
				if path := strings.ReplaceAll(key, "*", i); path != "" && !inSchema(path) {
					t.Errorf("%s: the schema has no %s", o.Field, path)
				}
			}
		}
	}
}

func inSchema(path string) bool {
	typ := reflect.TypeFor[file]()
	for part := range strings.SplitSeq(path, ".") {
		if part == "1" || part == "2" {
			continue
		}
		found := false
		for _, f := range fieldsOf(typ) {
			if f.key == part {
				found, typ = true, f.typ
				for typ.Kind() == reflect.Pointer || typ.Kind() == reflect.Slice {
					typ = typ.Elem()
				}
				break
			}
		}
		if !found {
			return false
		}
	}
	return true
}
