package scenario

import (
	"reflect"
	"slices"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/setting"
)

// Redact is the text of a scenario file with name(secret) in the place of every
// password and community, for journals: what it plays is the same, because none of
// them matters to the simulation as long as equal ones stay equal. What name returns
// must be plain ASCII of 8 to 32 octets, so that the text can be read again. A text
// that is not a scenario is empty afterwards.
func Redact(text []byte, name func(secret string) string) []byte {
	src := newSource("", text)
	if checkBytes(src) != nil {
		return nil
	}
	root, err := parse(src)
	if err != nil {
		return nil
	}
	places := secrets(root, append(secretKeys(reflect.TypeFor[file]()), secretSettings()...), nil)
	slices.SortFunc(places, func(a, b *node) int { return a.off - b.off })
	var out []byte
	done := 0
	for _, n := range places {
		secret, _ := n.val.(string) // what is none is refused elsewhere
		out = strconv.AppendQuote(append(out, text[done:n.off]...), name(secret))
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

// secretSettings is the last words of the paths of secret settings of the card, which
// tables of settings have as keys.
func secretSettings() []string {
	list := setting.All()
	for _, l := range setting.Lists() {
		list = append(list, l.Columns...)
	}
	var words []string
	for _, s := range list {
		if s.Secret {
			words = append(words, s.Path[strings.LastIndex(s.Path, ".")+1:])
		}
	}
	return words
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
