package scenario

import (
	_ "embed"
	"reflect"

	"ridethrough/sim/internal/core/plan"
)

// Options choose how a file is read.
type Options struct {
	Variant string  // name of the variant to apply, "" for none
	Seed    *uint64 // replaces the file's seed, at most 2^63-1; nil leaves it
}

// Variant is one [[variant]] of a file.
type Variant struct {
	Name   string
	Why    string
	Misses []string // names of expectations
}

//go:embed default.toml
var defaultScenario []byte

// Default is the scenario that is played when none is named, and the name for
// it in messages.
func Default() (name string, src []byte) {
	return "default.toml", append([]byte(nil), defaultScenario...)
}

// Load reads the scenario src, which messages call name. Every error is a
// *Problem. The file has to be right as it stands, whatever the variant.
func Load(name string, src []byte, opts Options) (*plan.Plan, error) {
	r, err := read(name, src, opts.Seed)
	if err != nil || opts.Variant == "" {
		return r.plan, err
	}
	v, err := r.variant(opts.Variant)
	if err != nil {
		return nil, err
	}
	return r.vary(v)
}

// Variants lists the variants of a file.
func Variants(name string, src []byte) ([]Variant, error) {
	r, err := read(name, src, nil)
	if err != nil {
		return nil, err
	}
	var list []Variant
	for _, v := range r.file.Variants {
		list = append(list, Variant{Name: v.Name, Why: v.Why, Misses: v.Misses})
	}
	return list, nil
}

// Check reads a file and each of its variants.
func Check(name string, src []byte) error {
	variants, err := Variants(name, src)
	if err != nil {
		return err
	}
	for _, v := range variants {
		if _, err := Load(name, src, Options{Variant: v.Name}); err != nil {
			return err
		}
	}
	return nil
}

// reading is a file on its way to a plan.
type reading struct {
	src  *source
	root *node
	seed *uint64
	file *file
	plan *plan.Plan

	varied []Quantity
}

func read(name string, text []byte, seed *uint64) (reading, error) {
	src := newSource(name, text)
	if err := checkBytes(src); err != nil {
		return reading{}, err
	}
	root, err := parse(src)
	if err != nil {
		return reading{}, err
	}
	r := reading{src: src, root: root, seed: seed}
	err = r.finish()
	return r, err
}

func (r *reading) finish() error {
	f := new(file)
	if err := (&binder{r.src}).table(r.root, reflect.ValueOf(f).Elem(), "the file"); err != nil {
		return err
	}
	if r.seed != nil {
		f.Seed = int64(*r.seed)
	}
	p, err := build(r.src, f, nil)
	if err != nil {
		return err
	}
	r.file, r.plan = f, p
	r.varied, err = r.quantities()
	return err
}

// vary applies v and reads the changed tree. It uses r up.
func (r *reading) vary(v *variantTable) (*plan.Plan, error) {
	if err := v.apply(r.src, r.root); err != nil {
		return nil, err
	}
	if err := r.finish(); err != nil {
		return nil, err
	}
	return r.plan, nil
}

func variantNames(f *file) []string {
	var names []string
	for _, v := range f.Variants {
		names = append(names, v.Name)
	}
	return names
}
