package scenario

import (
	"fmt"
	"reflect"

	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
)

// Mold makes plans of one scenario that differ in what its [vary] names. It is not
// safe for concurrent use, and a plan is good until the next one is made.
type Mold struct {
	reading    reading
	quantities []Quantity
	free       []cast // one for each quantity that varies
	kept       *compiled
}

// cast is a key that gets another value for every plan.
type cast struct {
	quantity int
	node     *node
	field    field
	to       reflect.Value
}

// compiled is what plans of one mold have in common: their names are the same.
type compiled struct {
	compiler *expect.Compiler
	conds    map[string]plan.Cond
	blocks   map[string]blocks.Block
}

// NewMold reads a scenario as [Load] does. A key that the variant sets does not
// vary. The error is a *Problem.
func NewMold(name string, src []byte, opts Options) (*Mold, error) {
	r, err := read(name, src, opts.Seed)
	if err != nil {
		return nil, err
	}
	set := map[string]bool{}
	if opts.Variant != "" {
		v, err := r.variant(opts.Variant)
		if err != nil {
			return nil, err
		}
		if _, err := r.vary(v); err != nil {
			return nil, err
		}
		for _, path := range v.Set.node.order {
			if s, err := r.src.locate(r.root, path, 0); err == nil {
				set[s.path] = true
			}
		}
	}
	m := &Mold{reading: r, quantities: r.varied, kept: &compiled{conds: map[string]plan.Cond{}, blocks: map[string]blocks.Block{}}}
	for i := range m.quantities {
		m.quantities[i].Fixed = set[m.quantities[i].Path]
	}
	return m, m.open()
}

// open gives every key that varies a middle value, so that tables that are not in
// the file come to be, and finds where the values go.
func (m *Mold) open() error {
	r := &m.reading
	for i := range m.quantities {
		q := &m.quantities[i]
		if q.Fixed {
			continue
		}
		n := &node{key: q.at, off: q.at, val: q.value(q.shown(q.inTicks(1, 0.5)))}
		if err := assignPath(r.src, r.root, q.Path, n); err != nil {
			return err
		}
		m.free = append(m.free, cast{quantity: i, node: n, field: q.spot.field})
	}
	if len(m.free) > 0 {
		if err := r.finish(); err != nil {
			return err
		}
	}
	for i := range m.free {
		c := &m.free[i]
		c.to = m.quantities[c.quantity].spot.in(reflect.ValueOf(r.file).Elem())
	}
	return nil
}

// in is the value at s below the struct v.
func (s *spot) in(v reflect.Value) reflect.Value {
	for _, st := range s.steps {
		if v.Kind() == reflect.Pointer {
			v = v.Elem()
		}
		if v = v.Field(st.field); st.item >= 0 {
			v = v.Index(st.item)
		}
	}
	if v.Kind() == reflect.Pointer {
		v = v.Elem()
	}
	return v
}

// Quantities is what varies, in the order of the file.
func (m *Mold) Quantities() []Quantity { return m.quantities }

// Plan is the plan with that master seed and a draw for each quantity. The error is
// a *Problem: values that do not go together.
func (m *Mold) Plan(seed uint64, draws []float64) (*plan.Plan, error) {
	b := &binder{m.reading.src}
	for i := range m.free {
		c := &m.free[i]
		c.node.val = m.quantities[c.quantity].value(draws[c.quantity])
		if err := b.scalar(c.node, c.field, c.to); err != nil {
			return nil, err
		}
	}
	m.reading.file.Seed = int64(seed)
	return build(m.reading.src, m.reading.file, m.kept)
}

// variant is the variant of that name.
func (r *reading) variant(name string) (*variantTable, error) {
	for i := range r.file.Variants {
		if v := &r.file.Variants[i]; v.Name == name {
			return v, nil
		}
	}
	names := variantNames(r.file)
	p := r.src.at(0, fmt.Sprintf("the file has no variant %q", short(name)), "one of "+joined(names))
	if len(names) == 0 {
		p.Want = "none, because the file has no variants"
	}
	p.Near = expect.Nearest(name, names)
	return nil, p
}
