package scenario

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/expect"
)

// keyKind is what a key that can be varied takes.
type keyKind uint8

const (
	wordKey keyKind = iota // text, or true and false: only a choice or a grid
	numberKey
	wholeKey
	spanKey
)

// spot is where a path leads.
type spot struct {
	path  string // by names
	steps []step
	field field
	ends  bool // at a single value
}

// step goes to a field of a struct and, in a list, to an item.
type step struct{ field, item int }

func (s *spot) scalar() bool { return s.ends }

func (s *spot) kind() keyKind {
	switch s.field.plain().String() {
	case "float64":
		return numberKey
	case "int64":
		return wholeKey
	case "vtime.Tick":
		return spanKey
	}
	return wordKey
}

// variable are the tables whose keys can be varied.
var variable = []string{"unit", "source", "ups", "battery", "card", "network", "room", "probe", "group", "host", "server", "time_server", "switch", "peer", "login_server", "policy", "at"}

// plain is the type of the field without the pointer of one that may be absent.
func (f *field) plain() reflect.Type {
	if f.typ.Kind() == reflect.Pointer {
		return f.typ.Elem()
	}
	return f.typ
}

// fileFields are the tables of the file whose keys can be varied.
func fileFields() []field {
	return slices.DeleteFunc(fieldsOf(reflect.TypeFor[file]()), func(f field) bool { return !slices.Contains(variable, f.key) })
}

// locate follows path through the schema, and through the file for items of lists.
// at is where the path stands.
func (s *source) locate(root *node, path string, at int) (spot, error) {
	var sp spot
	fields, n, rest, called := fileFields(), root, path, "the file"
	for {
		head, tail, more := strings.Cut(rest, ".")
		f, err := s.fieldCalled(fields, head, called, at)
		if err != nil {
			return sp, err
		}
		sp.field, sp.path = f, strings.TrimPrefix(sp.path+"."+head, ".")
		sp.steps = append(sp.steps, step{f.index, -1})
		if n != nil {
			n = n.kids[head]
		}
		t, many, isTable := tableOf(f.typ)
		switch {
		case !isTable && more:
			return sp, s.at(at, sp.path+" is a single value", "a path that ends there")
		case !isTable:
			sp.ends = true
			return sp, s.variesAs(&f, sp.path, at)
		case many && more:
			item, i, name, after, err := s.itemOf(n, tail, sp.path, at)
			if err != nil {
				return sp, err
			}
			sp.steps[len(sp.steps)-1].item = i
			sp.path += "." + name
			n, tail, more = item, after, after != ""
		}
		if !more {
			return sp, nil
		}
		fields, rest, called = fieldsOf(t), tail, sp.path
	}
}

// fieldCalled is the field of that name.
func (s *source) fieldCalled(fields []field, name, called string, at int) (field, error) {
	names := make([]string, len(fields))
	for i, f := range fields {
		if names[i] = f.key; f.key == name {
			return f, nil
		}
	}
	what := fmt.Sprintf("%s has no key %q", called, short(name))
	if called == "the file" {
		what = fmt.Sprintf("%q cannot be varied", short(name))
	}
	p := s.at(at, what, "one of "+strings.Join(names, ", "))
	p.Near = expect.Nearest(name, names)
	return field{}, p
}

// variesAs refuses keys that mean something else for every value.
func (s *source) variesAs(f *field, path string, at int) error {
	switch f.plain().String() {
	case "float64", "int64", "vtime.Tick", "bool":
		return nil
	case "string":
		if f.key != "name" && f.tag.Get("secret") == "" {
			return nil
		}
	}
	return s.at(at, path+" cannot be varied", "a number, a duration, a word or true and false")
}

// itemOf is the item of a list that rest begins with.
func (s *source) itemOf(list *node, rest, path string, at int) (item *node, index int, name, after string, err error) {
	var items []*node
	if list != nil {
		items = list.items
	}
	if i, tail := itemCalled(items, rest); i >= 0 {
		return items[i], i, calledName(items[i], i), strings.TrimPrefix(tail, "."), nil
	}
	head, _, _ := strings.Cut(rest, ".")
	p := s.at(at, fmt.Sprintf("%s: there is no %q", path, short(head)), "the name of one, or its number counted from 1")
	p.Near = expect.Nearest(head, calledNames(items))
	return nil, 0, "", "", p
}
