package plan_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/provenance"
)

// otherwise are numeric fields of a plan that are no figures of its physics.
var otherwise = map[string]string{
	"Seed": "chance", "Switches": "machines of the network", "Peers": "machines of the network", "RunFor": "the length of the run", "Card": "the card's firmware", "Network": "addresses", "Servers": "what else is on the network", "LoginServers": "likewise", "Releases": "firmware of the card", "TimeServers": "likewise",
	"Units": "plans as this one", "Unit": "which of them it is", "Fleet": "how many sites there are, and where their files are", "Policy": "somebody's decisions", "Monitor": "somebody's software", "Entries": "what happens, which the trace shows", "Expects": "claims",
	"UPS.Topology": "a word", "UPS.Bypass.Supply": "a word", "UPS.Audible": "a word", "UPS.ShutdownType": "a word",
	"Battery.Cell.N": "how many modes there are", "Battery.Cell.Open": "shown at its knots",
	"Groups[].Rules.ShedAfter": "a rule of the site", "Groups[].Rules.ShedRuntime": "a rule of the site", "Groups[].Rules.ShedPct": "a rule of the site",
	"Groups[].Rules.MinPct": "a rule of the site", "Groups[].Rules.MinOff": "a rule of the site",
	"Battery.ColdestC": "a run does not look at it", "Battery.HottestC": "a run does not look at it",
	"Groups[].Unit": "a place", "Hosts[].Supplies": "how many it needs", "Hosts[].Groups": "names", "Hosts[].Believed[]": "names", "Hosts[].Needs": "names", "Hosts[].Line": "a place", "Hosts[].Wired.Output": "a place", "Hosts[].Restart": "a word", "Hosts[].Channel": "a word",
}

// TestEveryFigureHasAnOrigin: a numeric field of the plan without a row, and a row
// without a field, are both wrong.
func TestEveryFigureHasAnOrigin(t *testing.T) {
	rows := map[string]bool{}
	for _, o := range plan.Origins() {
		if rows[o.Field] {
			t.Errorf("two rows for %s", o.Field)
		}
		rows[o.Field] = true
		if !slices.Contains(provenance.Kinds(), o.Kind) || o.Kind == provenance.Scenario || o.Group == "" {
			t.Errorf("%s: kind %q, group %q", o.Field, o.Kind, o.Group)
		}
		if o.Why == "" && o.Kind != provenance.Ours && o.Kind != provenance.Practice && o.Kind != provenance.Memory && o.Kind != provenance.Fitted {
			t.Errorf("%s is %s without saying where", o.Field, o.Kind)
		}
	}
	seen := map[string]bool{}
	for _, field := range numeric(reflect.TypeFor[plan.Plan](), "") {
		seen[field] = true
		if !rows[field] {
			t.Errorf("the plan's %s has no row in origins.go, and no reason in this test", field)
		}
	}
	for field := range rows {
		if !seen[field] {
			t.Errorf("there is a row for %s and no such field", field)
		}
	}
}

// numeric lists the numeric fields of a type with their paths.
func numeric(typ reflect.Type, path string) (list []string) {
	if _, no := otherwise[path]; no {
		return nil
	}
	switch typ.Kind() {
	case reflect.Pointer:
		return numeric(typ.Elem(), path)
	case reflect.Slice, reflect.Array:
		return numeric(typ.Elem(), path+"[]")
	case reflect.Struct:
		if typ.PkgPath() == "time" {
			return nil
		}
		for i := range typ.NumField() {
			f := typ.Field(i)
			if f.IsExported() {
				list = append(list, numeric(f.Type, strings.TrimPrefix(path+"."+f.Name, "."))...)
			}
		}
	case reflect.Float64, reflect.Int, reflect.Int64, reflect.Uint8, reflect.Uint64:
		return []string{path}
	case reflect.Bool:
		if physical(path) {
			return []string{path}
		}
	}
	return list
}

// physical says whether a yes or no is one of physics.
func physical(path string) bool {
	return path == "Battery.Estimate.Learned" || path == "Room.OwnSupply"
}

// TestPhysics: values in the units of their keys, of what is there.
func TestPhysics(t *testing.T) {
	p := plan.Plan{
		Source:  plan.Source{Volts: 230},
		UPS:     plan.UPS{Transfer: 6, Overload: plan.Overload{Borne: 1.05}},
		Battery: plan.Battery{CapacityAh: 9, Capacity: 0.8},
		Hosts:   []plan.Host{{HoldUp: 20}, {HoldUp: vtime.Second}},
	}
	got := map[string]float64{}
	for _, x := range p.Physics() {
		got[x.Name] = x.Value
	}
	for name, want := range map[string]float64{
		"source.nominal_v": 230, "ups.transfer": 0.006, "ups.overload.borne_pct": 105, "battery.health.capacity_pct": 80,
		"host.1.hold_up": 0.020, "host.2.hold_up": 1, "battery.params.a2": 0.76797,
	} {
		if v, ok := got[name]; !ok || v != want {
			t.Errorf("%s is %v, want %v", name, v, want)
		}
	}
	for name := range got {
		if strings.Contains(name, "generator.") || strings.HasPrefix(name, "room.") || strings.Contains(name, "*") {
			t.Errorf("%s of a site that has none", name)
		}
	}
}
