package scenario

import (
	"fmt"
	"math"
	"net/netip"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/vtime"
)

// scalar binds a single value.
func (b *binder) scalar(n *node, f field, v reflect.Value) error {
	switch p := v.Addr().Interface().(type) {
	case *vtime.Tick:
		return b.duration(n, f, p)
	case *string:
		return b.text(n, f, p)
	case *float64:
		return b.number(n, f, p)
	case *int64:
		return b.whole(n, f, p)
	case *bool:
		return assign(b, n, f, p)
	case *time.Time:
		return assign(b, n, f, p)
	case *condition:
		p.node = n
		return assign(b, n, f, &p.text)
	case *netip.Addr:
		return parseText(b, n, f, p, netip.ParseAddr)
	case *netip.Prefix:
		return parseText(b, n, f, p, netip.ParsePrefix)
	case *netip.AddrPort:
		return parseText(b, n, f, p, netip.ParseAddrPort)
	}
	panic("scenario: the schema has a field of type " + v.Type().String())
}

// assign takes a value that has the right type already.
func assign[T any](b *binder, n *node, f field, to *T) error {
	v, ok := n.val.(T)
	if !ok {
		return b.mismatch(n, f)
	}
	*to = v
	return nil
}

func parseText[T any](b *binder, n *node, f field, to *T, parse func(string) (T, error)) error {
	s, ok := n.val.(string)
	if !ok {
		return b.mismatch(n, f)
	}
	v, err := parse(s)
	if err != nil {
		return b.mismatch(n, f)
	}
	*to = v
	return nil
}

func (b *binder) duration(n *node, f field, to *vtime.Tick) error {
	s, ok := n.val.(string)
	if !ok {
		return b.mismatch(n, f)
	}
	if word := f.tag.Get("word"); word != "" && s == word {
		*to = vtime.Never
		return nil
	}
	d, err := time.ParseDuration(s)
	if err != nil || d%time.Millisecond != 0 || d < span(f.tag.Get("min")) || d > span(f.tag.Get("max")) {
		return b.mismatch(n, f)
	}
	*to = vtime.FromDuration(d)
	return nil
}

func (b *binder) number(n *node, f field, to *float64) error {
	x, ok := n.val.(float64)
	if i, whole := n.val.(int64); whole {
		x, ok = float64(i), true
	}
	if !ok || math.IsNaN(x) || x < number(f.tag.Get("min")) || x > number(f.tag.Get("max")) {
		return b.mismatch(n, f)
	}
	*to = x
	return nil
}

func (b *binder) whole(n *node, f field, to *int64) error {
	i, ok := n.val.(int64)
	upper := f.tag.Get("max")
	if !ok || i < int64(number(f.tag.Get("min"))) || upper != "" && i > int64(number(upper)) {
		return b.mismatch(n, f)
	}
	*to = i
	return nil
}

func (b *binder) text(n *node, f field, to *string) error {
	s, ok := n.val.(string)
	if !ok {
		return b.mismatch(n, f)
	}
	if one := f.tag.Get("one"); one != "" {
		words := strings.Split(one, "|")
		if !slices.Contains(words, s) {
			p := b.mismatch(n, f)
			p.Near = expect.Nearest(s, words)
			return p
		}
	}
	length := utf8.RuneCountInString(s)
	if length < int(number(f.tag.Get("min"))) || length > textMax(f) || !printable(s, f.tag.Get("ascii") != "") {
		return b.mismatch(n, f)
	}
	*to = s
	return nil
}

// textMax is the most characters of a text; names without a limit of their own
// get a common one.
func textMax(f field) int {
	if m := f.tag.Get("max"); m != "" {
		return int(number(m))
	}
	return 64
}

func printable(s string, ascii bool) bool {
	for _, r := range s {
		if !unicode.IsPrint(r) || ascii && r > unicode.MaxASCII {
			return false
		}
	}
	return true
}

// number and span read the limits in tags; an empty one is 0.
func number(tag string) float64 {
	if tag == "" {
		return 0
	}
	v, err := strconv.ParseFloat(tag, 64)
	if err != nil {
		panic("scenario: the schema has the limit " + tag)
	}
	return v
}

func span(tag string) time.Duration {
	d, err := time.ParseDuration(tag)
	if err != nil {
		panic("scenario: the schema has the limit " + tag)
	}
	return d
}

// defaultValue is the text of a default as the TOML decoder would give it.
func defaultValue(def string, t reflect.Type) any {
	switch t {
	case reflect.TypeFor[float64]():
		return number(def)
	case reflect.TypeFor[int64]():
		return int64(number(def))
	case reflect.TypeFor[bool]():
		return def == "true"
	case reflect.TypeFor[time.Time]():
		at, err := time.Parse(time.RFC3339, def)
		if err != nil {
			panic("scenario: the schema has the date " + def)
		}
		return at
	default:
		return def
	}
}

// describe is what stands in the file, for a message.
func describe(n *node) string {
	switch v := n.val.(type) {
	case string:
		return fmt.Sprintf("the text %q", short(v))
	case int64, float64:
		return fmt.Sprintf("the number %v", v)
	case bool:
		return fmt.Sprint(v)
	}
	switch n.shape {
	case tableShape:
		return "a table"
	case arrayShape:
		return "a list"
	default:
		return "a date or time"
	}
}
