package scenario

import (
	"reflect"
	"slices"
	"strings"
)

// hidden takes the place of a password. It is one itself, so that the text can
// be read again.
const hidden = `"(hidden)"`

// Redact is the text of a scenario file without its passwords, for journals: what
// it plays is the same, because no password reaches the simulation. A text that
// is not a scenario is empty afterwards.
func Redact(text []byte) []byte {
	src := newSource("", text)
	if checkBytes(src) != nil {
		return nil
	}
	root, err := parse(src)
	if err != nil {
		return nil
	}
	places := secrets(root, secretKeys(reflect.TypeFor[file]()), nil)
	slices.SortFunc(places, func(a, b *node) int { return a.off - b.off })
	var out []byte
	done := 0
	for _, n := range places {
		out = append(append(out, text[done:n.off]...), hidden...)
		done = n.off + n.size
	}
	return append(out, text[done:]...)
}

// secretKeys is the keys of the schema whose values are secret.
func secretKeys(t reflect.Type) []string {
	var keys []string
	for _, f := range fieldsOf(t) {
		if f.tag.Get("secret") != "" {
			keys = append(keys, f.key)
		}
		if sub, _, ok := tableOf(f.typ); ok {
			keys = append(keys, secretKeys(sub)...)
		}
	}
	return keys
}

// secrets adds the values of the keys at and below n. A variant sets them by
// their paths.
func secrets(n *node, keys []string, found []*node) []*node {
	for _, name := range n.order {
		kid := n.kids[name]
		last := name[strings.LastIndex(name, ".")+1:]
		if kid.shape == scalar && slices.Contains(keys, last) {
			found = append(found, kid)
		}
		found = secrets(kid, keys, found)
	}
	for _, item := range n.items {
		found = secrets(item, keys, found)
	}
	return found
}
