package scenario

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/expect"
)

// binder puts a tree into the structs of the schema and refuses what does not
// fit them.
type binder struct{ src *source }

// field is one key of a table.
type field struct {
	key   string
	tag   reflect.StructTag
	typ   reflect.Type
	index int
}

// fieldsOf lists the keys of a schema struct in its order.
func fieldsOf(t reflect.Type) []field {
	var list []field
	for i := range t.NumField() {
		f := t.Field(i)
		if key := f.Tag.Get("key"); key != "" {
			list = append(list, field{key, f.Tag, f.Type, i})
		}
	}
	return list
}

// placer is a schema struct that remembers its node.
type placer interface{ place(*node) }

// table binds n to the struct v. called is how messages name the table.
func (b *binder) table(n *node, v reflect.Value, called string) error {
	v.Addr().Interface().(placer).place(n)
	fields := fieldsOf(v.Type())
	if err := b.unknown(n, fields, called); err != nil {
		return err
	}
	for _, f := range fields {
		if err := b.key(n, f, v.Field(f.index), called); err != nil {
			return err
		}
	}
	return nil
}

// presets gives every key of the struct t its default.
func (b *builder) presets(t placer) {
	if err := (&binder{b.src}).table(newTable(0), reflect.ValueOf(t).Elem(), ""); err != nil {
		panic("scenario: a default is not one: " + err.Error())
	}
}

func (b *binder) unknown(n *node, fields []field, called string) error {
	names := make([]string, len(fields))
	for i, f := range fields {
		names[i] = f.key
	}
	for _, name := range n.order {
		if !slices.Contains(names, name) {
			p := b.src.at(n.kids[name].key, fmt.Sprintf("%s has no key %q", called, short(name)), "one of "+strings.Join(names, ", "))
			p.Near = expect.Nearest(name, names)
			return p
		}
	}
	return nil
}

// key binds one key, or its default.
func (b *binder) key(n *node, f field, v reflect.Value, called string) error {
	kid := n.kids[f.key]
	if kid != nil {
		return b.value(kid, f, v)
	}
	if f.tag.Get("need") != "" {
		return b.src.at(n.key, fmt.Sprintf("%s lacks %s", called, f.key), wants(f))
	}
	if f.typ.Kind() == reflect.Struct && isTable(f.typ) {
		return b.table(newTable(n.key), v, "["+f.key+"]")
	}
	if def, ok := f.tag.Lookup("def"); ok {
		return b.preset(def, f, v)
	}
	return nil
}

// preset binds the default of a field: text as it stands in the tag.
func (b *binder) preset(def string, f field, v reflect.Value) error {
	n := &node{val: defaultValue(def, f.typ)}
	if err := b.value(n, f, v); err != nil {
		panic("scenario: default of " + f.key + ": " + err.Error())
	}
	return nil
}

// value binds n to a field of any type.
func (b *binder) value(n *node, f field, v reflect.Value) error {
	switch {
	case v.Type() == reflect.TypeFor[freeForm]():
		return b.setting(n, f, v)
	case v.Type() == reflect.TypeFor[varyForm]():
		if n.shape != tableShape {
			return b.mismatch(n, f)
		}
		v.Set(reflect.ValueOf(varyForm{n}))
		return nil
	case v.Kind() == reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		return b.value(n, f, v.Elem())
	case v.Kind() == reflect.Slice:
		return b.list(n, f, v)
	case isTable(v.Type()):
		return b.subTable(n, f, v)
	default:
		return b.scalar(n, f, v)
	}
}

func (b *binder) setting(n *node, f field, v reflect.Value) error {
	if n.shape != tableShape || len(n.order) == 0 {
		return b.mismatch(n, f)
	}
	v.Set(reflect.ValueOf(freeForm{n}))
	return nil
}

// subTable binds a table, or the word that may stand instead of it.
func (b *binder) subTable(n *node, f field, v reflect.Value) error {
	bare := f.tag.Get("bare")
	word, isWord := n.val.(string)
	switch {
	case n.shape == tableShape:
		return b.table(n, v, tableName(f))
	case bare == "" || !isWord:
		return b.mismatch(n, f)
	}
	words := strings.Split(bare, "|")
	if !slices.Contains(words, word) {
		p := b.mismatch(n, f)
		p.Near = expect.Nearest(word, words)
		return p
	}
	v.Addr().Interface().(placer).place(n)
	v.FieldByName("Word").SetString(word)
	return nil
}

func (b *binder) list(n *node, f field, v reflect.Value) error {
	most := int(number(f.tag.Get("max")))
	switch {
	case n.shape != arrayShape:
		return b.mismatch(n, f)
	case len(n.items) == 0 && f.tag.Get("min") != "":
		return b.src.at(n.off, f.key+" is empty", "at least "+f.tag.Get("min"))
	case len(n.items) > most:
		return b.src.at(n.items[most].key, fmt.Sprintf("%s has %d items", f.key, len(n.items)), fmt.Sprintf("at most %d", most))
	}
	v.Set(reflect.MakeSlice(v.Type(), len(n.items), len(n.items)))
	item := f
	item.typ = f.typ.Elem()
	if item.typ.Kind() == reflect.String {
		item.tag = `min:"1" max:"200"`
	}
	for i, kid := range n.items {
		if err := b.value(kid, item, v.Index(i)); err != nil {
			return err
		}
	}
	return nil
}

// isTable says whether t is a schema struct.
func isTable(t reflect.Type) bool {
	return t.Kind() == reflect.Struct && reflect.PointerTo(t).Implements(reflect.TypeFor[placer]())
}

// tableName is how messages call the table of f.
func tableName(f field) string {
	if f.typ.Kind() == reflect.Struct && f.tag.Get("max") != "" {
		return "[[" + f.key + "]]"
	}
	return "[" + f.key + "]"
}

func (b *binder) mismatch(n *node, f field) *Problem {
	is := describe(n)
	if f.tag.Get("secret") != "" {
		is = "not such as it has to be; it is not shown here"
	}
	return b.src.at(n.off, f.key+" is "+is, wants(f))
}
