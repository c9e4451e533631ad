package scenario_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/scenario"
)

// TestVariantsMissWhatTheySay runs scenarios through the engine: as it stands a
// scenario meets everything, and a variant misses exactly what it names.
func TestVariantsMissWhatTheySay(t *testing.T) {
	const branch = "two-rack-outage.toml"
	office, err := os.ReadFile(filepath.Join("..", "..", "..", "..", "scenarios", branch))
	if err != nil {
		t.Fatal(err)
	}
	name, src := scenario.Default()
	for _, file := range []struct {
		name string
		src  []byte
	}{{name, src}, {branch, office}} {
		variants, err := scenario.Variants(file.name, file.src)
		if err != nil {
			t.Fatal(err)
		}
		checkAllCanBeMissed(t, file.name, file.src, variants)
		for _, v := range append(variants, scenario.Variant{}) {
			t.Run(file.name+"/"+v.Name, func(t *testing.T) {
				missed := missedIn(t, file.name, file.src, v.Name)
				if diff := cmp.Diff(v.Misses, missed, cmpopts.SortSlices(func(a, b string) bool { return a < b }), cmpopts.EquateEmpty()); diff != "" {
					t.Errorf("-named +missed:\n%s", diff)
				}
			})
		}
	}
}

// checkAllCanBeMissed: nobody has seen an expectation fail that no variant misses.
func checkAllCanBeMissed(t *testing.T, name string, src []byte, variants []scenario.Variant) {
	t.Helper()
	p, err := scenario.Load(name, src, scenario.Options{})
	if err != nil {
		t.Fatal(err)
	}
	missed := map[string]bool{}
	for _, v := range variants {
		for _, m := range v.Misses {
			missed[m] = true
		}
	}
	for _, e := range p.Expects {
		if !missed[e.Name] {
			t.Errorf("%s: no variant misses %q", name, e.Name)
		}
	}
}

func missedIn(t *testing.T, name string, src []byte, variant string) []string {
	t.Helper()
	p, err := scenario.Load(name, src, scenario.Options{Variant: variant})
	if err != nil {
		t.Fatal(err)
	}
	e, _, err := engine.New(p, scenario.Injector(p))
	if err != nil {
		t.Fatal(err)
	}
	engine.Run(e, func(engine.Frame) {})
	var missed []string
	for _, v := range e.Finish() {
		if v.State != expect.Met {
			missed = append(missed, v.Name)
			t.Logf("%s %s: %s", v.State, v.Name, v.Because)
		}
	}
	return missed
}
