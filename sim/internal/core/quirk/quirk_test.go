package quirk

import (
	"flag"
	"path/filepath"
	"strings"
	"testing"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
)

var update = flag.Bool("update", false, "rewrite docs/quirks.md")

func TestDocument(t *testing.T) {
	got := Document()
	if strings.Contains(got, "{{") {
		t.Error("a part was not filled in")
	}
	checks.Generated(t, filepath.Join("..", "..", "..", "..", "docs", "quirks.md"), got, 0, *update)
}

// TestCatalogueIsWhole: every kind has one entry, in order, with all that it has to
// say, and defaults within its limits.
func TestCatalogueIsWhole(t *testing.T) {
	all := All()
	if len(all) != int(snap.QuirkKinds)-1 {
		t.Fatalf("%d entries for %d kinds", len(all), snap.QuirkKinds-1)
	}
	names := map[string]bool{}
	for i, e := range all {
		name := e.Kind.String()
		if e.Kind != snap.QuirkKind(i+1) || names[name] || name == "unknown" || snap.QuirkByName(name) != e.Kind {
			t.Errorf("entry %d is %v", i, e.Kind)
		}
		names[name] = true
		for what, text := range map[string]string{"Does": e.Does, "Client": e.Client, "Source": e.Source, "Family": string(e.Family)} {
			if text == "" || strings.ContainsAny(text, "|\n") {
				t.Errorf("%v: %s is %q", e.Kind, what, text)
			}
		}
		for _, r := range []Range{e.Count, e.Value, e.Percent} {
			if r.Default < r.Min || r.Default > r.Max {
				t.Errorf("%v: %+v", e.Kind, r)
			}
		}
		for _, s := range []Span{e.Delay, e.Lasts} {
			if s.Default < s.Min || s.Default > s.Max {
				t.Errorf("%v: %+v", e.Kind, s)
			}
		}
		for _, o := range e.DefaultObjects {
			if known := snap.ObjectByName(o); known == nil || !e.Allows(known) {
				t.Errorf("%v: %s is no object for it", e.Kind, o)
			}
		}
	}
}
