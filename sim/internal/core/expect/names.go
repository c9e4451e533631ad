package expect

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/agext/levenshtein"
	"github.com/expr-lang/expr/conf"
	"github.com/expr-lang/expr/types"

	"ridethrough/sim/internal/core/snap"
)

// branch is one level of the dotted names: a leaf carries a variable.
type branch struct {
	name  string // dotted, from the root
	leaf  *Variable
	kids  map[string]*branch
	order []string
}

func newBranch(name string) *branch { return &branch{name: name, kids: map[string]*branch{}} }

// child is the branch with that name below b, made if need be.
func (b *branch) child(name string) *branch {
	if kid := b.kids[name]; kid != nil {
		return kid
	}
	kid := newBranch(strings.TrimPrefix(b.name+"."+name, "."))
	b.kids[name] = kid
	b.order = append(b.order, name)
	return kid
}

func (b *branch) add(v *Variable) {
	for _, part := range strings.Split(v.Name, ".") {
		b = b.child(part)
	}
	b.leaf = v
}

// environment is b as the expression library wants it; a map without its
// marker for extra keys makes unknown names errors.
func (b *branch) environment() types.Type {
	if b.leaf != nil {
		return [...]types.Type{types.Bool, types.Float64, types.Int, types.String, types.String}[b.leaf.Kind]
	}
	m := types.Map{}
	for _, name := range b.order {
		m[name] = b.kids[name].environment()
	}
	return m
}

func newConfig(root *branch) *conf.Config {
	c := conf.New(root.environment())
	c.Expect = reflect.Bool
	return c
}

// Nearest is the candidate that name was perhaps meant to be, "" if none is
// near: at least half alike or the same letters in another order, the first of
// the best.
func Nearest(name string, candidates []string) string {
	best, found := 0.0, ""
	for _, c := range candidates {
		if s := likeness(strings.ToLower(name), strings.ToLower(c)); s >= 0.5 && s > best {
			best, found = s, c
		}
	}
	return found
}

func likeness(a, b string) float64 {
	s := levenshtein.Similarity(a, b, nil)
	if x, y := []byte(a), []byte(b); len(x) == len(y) {
		slices.Sort(x)
		slices.Sort(y)
		if string(x) == string(y) {
			return max(s, 0.8)
		}
	}
	return s
}

// unknown is the error for a name that is not below b.
func (b *branch) unknown(name string, at int) *Error {
	e := &Error{At: at, Near: Nearest(name, b.order)}
	if b.name == "" {
		e.What, e.Want = fmt.Sprintf("there is nothing called %q", name), "one of "+strings.Join(b.order, ", ")
		return e
	}
	e.What = fmt.Sprintf("%s has no %q", b.name, name)
	if len(b.order) == 0 {
		e.Want = "no name at all, because the scenario has none of them"
		return e
	}
	e.Want = "one of " + listed(b.order)
	return e
}

// listed is names with commas, cut short after a dozen.
func listed(names []string) string {
	const most = 12
	if len(names) <= most {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), len(names)-most)
}

// show is the variable's value for people.
func (v *Variable) show(s *snap.Site) string {
	switch v.Kind {
	case YesNo:
		return strconv.FormatBool(v.yes(s))
	case Word:
		return strconv.Quote(wordAt(v.Words, v.code(s)))
	case Address:
		return strconv.Quote(addrText(v.addr(s)))
	case Count:
		return strconv.FormatFloat(v.num(s), 'f', 0, 64)
	default:
		return strconv.FormatFloat(v.num(s), 'f', 3, 64)
	}
}
