package sim_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"ridethrough/sim"
	"ridethrough/sim/internal/checks"
)

// TestPhysics: what is in force, and where it comes from.
func TestPhysics(t *testing.T) {
	const head = "title = 't'\nrun_for = '1h'\n"
	cell := "battery.params.r_ohm"
	for _, c := range []struct {
		text, name string
		value      float64
		from       string
		source     string // a part of it
	}{
		{"", "ups.transfer", 0.006, "practice", "2 to 10 ms"},
		{"[ups]\ntransfer = '8ms'", "ups.transfer", 0.008, "scenario", "line 4, ups.transfer"},
		{"[ups]\ntopology = 'VFI'", "ups.bypass.gap", 0.015, "practice", ""},
		{"", cell, 0.0097429, "fitted", "typical of its capacity"},
		{"[battery]\nblock = 'agm-12v-7ah'", cell, 0.012555, "fitted", "150 rows of xlt12-7_12v7ah.csv"},
		{"[battery]\nblock = 'lfp-12.8v-20ah'", cell, 0.004, "memory", "management"},
		{"[battery]\ncapacity_ah = 20", "battery.capacity_ah", 20, "scenario", "line 4"},
		{"[battery]\nage_years = 5", "battery.health.capacity_pct", 90, "scenario", "battery.age_years"},
		{"[room]\nvolume_m3 = 10\nequipment_kg = 0", "Room.HeatJPerK", 12060, "scenario", "room.volume_m3"},
		{"", "capacity at 0 C", 86, "published", "data sheets"},
		{"[[host]]\nname = 'a'\ndraw_w = 1\n[[host]]\nname = 'b'\ndraw_w = 1\nhold_up = '9ms'", "host.1.hold_up", 0.020, "published", "ITI"},
		{"[[host]]\nname = 'a'\ndraw_w = 1\n[[host]]\nname = 'b'\ndraw_w = 1\nhold_up = '9ms'", "host.2.hold_up", 0.009, "scenario", "line 9"},
	} {
		s, err := sim.Parse("t.toml", []byte(head+c.text))
		if err != nil {
			t.Fatal(err)
		}
		name := strings.Replace(c.name, "Room.HeatJPerK", "room.volume_m3", 1)
		if p := parameter(t, s, name); math.Abs(p.Value-c.value) > 1e-5*c.value || p.From != c.from || !strings.Contains(p.Source, c.source) {
			t.Errorf("%q: %+v, want %v from %s, %s", c.text, p, c.value, c.from, c.source)
		}
	}
}

// parameter is the figure of that name that is in force in s.
func parameter(t *testing.T, s *sim.Scenario, name string) sim.Parameter {
	t.Helper()
	list, err := s.Physics()
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(list, func(p sim.Parameter) bool { return p.Name == name })
	if i < 0 {
		t.Fatalf("there is no %s", name)
	}
	return list[i]
}

// TestPhysicsOfAUnit: a further unit has its own tables, and the feeder that it shares.
func TestPhysicsOfAUnit(t *testing.T) {
	const text = `title = "t"
run_for = "1h"
[source]
nominal_v = 240
[ups]
transfer = "8ms"
rating_w = 900
[battery]
capacity_ah = 20
[[unit]]
name = "shares"
[unit.ups]
rating_w = 800
[[unit]]
name = "own"
[unit.source]
nominal_v = 220
[unit.battery]
capacity_ah = 30
[[group]]
name = "a"
[[group]]
name = "b"
unit = "shares"
[[group]]
name = "c"
unit = "own"
[[host]]
name = "h"
draw_w = 100
groups = ["b"]
`
	s, err := sim.Parse("t.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		unit, name string
		value      float64
		from       string
		source     string
	}{
		{"", "ups.rating_w", 900, "scenario", "line 7, ups.rating_w"},
		{"", "source.nominal_v", 240, "scenario", "line 4"},
		{"shares", "ups.rating_w", 800, "scenario", "line 13, unit.1.ups.rating_w"},
		{"shares", "ups.transfer", 0.006, "practice", ""},
		{"shares", "source.nominal_v", 240, "scenario", "line 4, source.nominal_v"},
		{"shares", "host.1.draw_w", 100, "scenario", "line 30"},
		{"own", "source.nominal_v", 220, "scenario", "line 17, unit.2.source.nominal_v"},
		{"own", "battery.capacity_ah", 30, "scenario", "line 19, unit.2.battery.capacity_ah"},
	} {
		of, err := s.Alone(c.unit)
		if err != nil {
			t.Fatal(err)
		}
		if p := parameter(t, of, c.name); p.Value != c.value || p.From != c.from || !strings.HasPrefix(p.Source, c.source) {
			t.Errorf("unit %q: %+v, want %v from %s, %s", c.unit, p, c.value, c.from, c.source)
		}
	}
}

// TestPhysicsOfAll: every scenario of ours lists each figure once, in whole groups,
// with a number that can be printed.
func TestPhysicsOfAll(t *testing.T) {
	for _, file := range checks.Scenarios(t) {
		s, err := sim.Load(file)
		if err != nil {
			t.Fatal(err)
		}
		list, err := s.Physics()
		if err != nil {
			t.Fatal(err)
		}
		groups, seen := []string{}, map[string]bool{}
		for _, p := range list {
			if key := p.Group + p.Name + p.Unit; seen[key] || math.IsNaN(p.Value) || math.IsInf(p.Value, 0) || p.From == "" {
				t.Errorf("%s: %+v, twice or no figure", file, p)
			} else {
				seen[key] = true
			}
			if len(groups) == 0 || groups[len(groups)-1] != p.Group {
				groups = append(groups, p.Group)
			}
		}
		if slices.Sort(groups); len(slices.Compact(slices.Clone(groups))) != len(groups) || len(list) < 60 {
			t.Errorf("%s: %d figures in groups %q", file, len(list), groups)
		}
	}
}
