package scenario

import (
	"errors"
	"reflect"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
)

// injected is the name of the bench's text in messages.
const injected = "entry"

// Injector reads single timeline entries for a running plan: the keys of [[at]]
// without time and when, for the bench, which means now.
func Injector(p *plan.Plan) func(text string) (plan.Entry, error) {
	hosts := map[string]int{}
	for i, h := range p.Hosts {
		hosts[h.Name] = i
	}
	groups := map[string]int{}
	for i, g := range p.Groups {
		groups[g.Name] = i
	}
	units := map[string]int{}
	for i, u := range p.Units {
		units[u.UnitName] = i + 1
	}
	return func(text string) (plan.Entry, error) {
		src := newSource(injected, []byte(text))
		if err := checkBytes(src); err != nil {
			return plan.Entry{}, err
		}
		root, err := parse(src)
		if err != nil {
			return plan.Entry{}, err
		}
		var e entryTable
		if err := (&binder{src}).table(root, reflect.ValueOf(&e).Elem(), "the entry"); err != nil {
			return plan.Entry{}, err
		}
		if e.Time != nil || e.When != nil {
			return plan.Entry{}, src.at(e.at("time"), "the entry has a time or a condition", "neither: it happens at once")
		}
		if e.Devices != nil {
			return plan.Entry{}, src.at(e.at("devices"), "the entry names devices", "none: the request says to which device it goes")
		}
		b := &builder{src: src, plan: p, hosts: hosts, groups: groups, unitAt: units}
		for _, u := range p.Units {
			b.others = append(b.others, &builder{src: src, plan: u, hosts: hosts, groups: groups})
		}
		return b.now(&e)
	}
}

// now is what an entry says that happens at once.
func (b *builder) now(t *entryTable) (plan.Entry, error) {
	e := plan.Entry{Line: 1, Note: t.Note}
	err := b.does(t, &e)
	return e, err
}

// asked is the bench's condition in messages.
const asked = "condition"

// Conditions reads single conditions for a running plan. What it returns is not
// safe for concurrent use.
func Conditions(p *plan.Plan) func(text string) (plan.Cond, error) {
	var compiler *expect.Compiler // it is large, and few ask
	return func(text string) (plan.Cond, error) {
		if compiler == nil {
			compiler = expect.NewCompiler((&builder{plan: p}).names())
		}
		cond, err := compiler.Compile(text)
		var e *expect.Error
		if errors.As(err, &e) {
			return cond, &Problem{File: asked, Line: 1, Column: e.At + 1, What: e.What, Want: e.Want, Near: e.Near}
		}
		return cond, err
	}
}
