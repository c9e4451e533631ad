package scenario

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// builder makes a plan of bound tables: it works out defaults, resolves names
// and refuses what does not hang together.
type builder struct {
	src      *source
	file     *file
	plan     *plan.Plan
	hosts    map[string]int
	groups   map[string]int
	probes   map[string]int
	contacts map[string]int // over all probes
	servers  map[string]int
	told     snap.Surroundings
	peers    map[string]int
	switchAt map[string]int
	compiler *expect.Compiler
	kept     *compiled // nil: nothing
	unitAt   map[string]int
	others   []*builder // of the further units
	unit     *unitTable // of the further unit whose plan this makes; nil: the first
}

// build makes a plan of f. With kept it uses the conditions that it compiled for
// another plan with the same names, and keeps its own.
func build(src *source, f *file, kept *compiled) (*plan.Plan, error) {
	b := &builder{src: src, file: f, kept: kept, plan: &plan.Plan{
		Title: f.Title, Seed: uint64(f.Seed), Start: f.Start, RunFor: f.RunFor,
		Source: plan.Source{Volts: f.Source.NominalV, Hz: f.Source.FrequencyHz},
	}}
	// In this order: later steps use what earlier ones put into the plan.
	for _, step := range []func() error{
		b.nameUnits, b.source, b.ups, b.battery, b.room, b.buildProbes, b.buildGroups, b.buildHosts, b.buildServers, b.timeServers, b.loginServers, b.card, b.fleet, b.network, b.policy, b.monitor, b.units,
		b.entries, b.expects, b.variants,
	} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return b.plan, nil
}

// wholePart is share of v in whole volts, as the card shows them.
func wholePart(share, v float64) float64 { return math.Round(float64(share * v)) }

// or is *p, or def if p is nil.
func or[T any](p *T, def T) T {
	if p == nil {
		return def
	}
	return *p
}

// missing is the problem of a name that is not in a list of names.
func (b *builder) missing(offset int, what, name string, names []string) error {
	want := "one of " + strings.Join(names, ", ")
	if len(names) == 0 {
		want = "none, because the file has no " + what
	} else if len(names) > 20 {
		want = fmt.Sprintf("one of the %d in the file", len(names))
	}
	p := b.src.at(offset, fmt.Sprintf("there is no %s %q", what, short(name)), want)
	p.Near = expect.Nearest(name, names)
	return p
}

var reserved = []string{"and", "or", "not", "in", "if", "else", "let", "true", "false", "nil", "contains", "matches"}

// name checks that a condition can write the name of a host or group after a dot.
func (b *builder) name(offset int, name string) error {
	const want = "lower-case letters, digits and underscores, starting with a letter, at most 32, and no word of the expression language"
	if slices.Contains(reserved, name) || len(name) > 32 || !plainName(name) {
		return b.src.at(offset, fmt.Sprintf("%q cannot be a name", short(name)), want)
	}
	return nil
}

func plainName(name string) bool {
	for i, r := range name {
		letter := r >= 'a' && r <= 'z'
		if !letter && (i == 0 || r != '_' && (r < '0' || r > '9')) {
			return false
		}
	}
	return name != ""
}

// unique notes that name is taken and refuses it the second time.
func (b *builder) unique(taken map[string]int, offset int, what, name string) error {
	if _, have := taken[name]; have {
		return b.src.at(offset, fmt.Sprintf("two of %s are called %q", what, short(name)), "a name of its own for each")
	}
	taken[name] = len(taken)
	return nil
}

// newName checks a name that has to be one of its own, and notes it.
func (b *builder) newName(taken map[string]int, offset int, what, name string) error {
	if err := b.name(offset, name); err != nil {
		return err
	}
	return b.unique(taken, offset, what, name)
}
