package expect

import (
	"fmt"
	"net/netip"
	"slices"
	"strings"

	"github.com/expr-lang/expr/ast"

	"ridethrough/sim/internal/core/snap"
)

// isWord compares a word variable with a literal by its code. A literal that
// the variable can never have is an error: the claim would be empty.
func isWord(v, lit *term) (func(*snap.Site) bool, error) {
	if err := checkWord(v, lit); err != nil {
		return nil, err
	}
	code, want := v.code, uint8(slices.Index(v.words, lit.litText))
	return func(s *snap.Site) bool { return code(s) == want }, nil
}

func checkWord(v, lit *term) error {
	if slices.Contains(v.words, lit.litText) {
		return nil
	}
	return &Error{
		At: lit.at, What: fmt.Sprintf("%s is never %q", v.name, lit.litText),
		Want: "one of " + quoted(v.words), Near: Nearest(lit.litText, v.words),
	}
}

func quoted(words []string) string {
	list := make([]string, len(words))
	for i, w := range words {
		list[i] = fmt.Sprintf("%q", w)
	}
	return strings.Join(list, ", ")
}

func isAddress(v, lit *term) (func(*snap.Site) bool, error) {
	want, err := addressLiteral(v, lit)
	if err != nil {
		return nil, err
	}
	addr := v.addr
	return func(s *snap.Site) bool { return addr(s) == want }, nil
}

func addressLiteral(v, lit *term) (netip.Addr, error) {
	if lit.litText == "" {
		return netip.Addr{}, nil
	}
	a, err := netip.ParseAddr(lit.litText)
	if err != nil || a.String() != lit.litText {
		return a, &Error{At: lit.at, What: fmt.Sprintf("%q is not an address that %s can be", lit.litText, v.name), Want: `an address such as "192.0.2.10", or ""`}
	}
	return a, nil
}

// membership compiles x in [a, b, c] for literals a, b, c.
func (l *lowering) membership(n *ast.BinaryNode) (*term, error) {
	v, err := l.term(n.Left)
	if err != nil {
		return nil, err
	}
	array, ok := n.Right.(*ast.ArrayNode)
	if !ok || len(array.Nodes) == 0 {
		return nil, &Error{At: n.Right.Location().From, What: "no list stands after in", Want: `a list of literals such as ["normal", "booster"]`}
	}
	items := make([]*term, len(array.Nodes))
	for i, item := range array.Nodes {
		if items[i], err = l.term(item); err != nil {
			return nil, err
		}
		if !items[i].literal {
			return nil, &Error{At: items[i].at, What: "the list after in holds something that is computed", Want: "numbers or quoted words only"}
		}
	}
	f, err := oneOf(v, items)
	return yesTerm(v.at, f), err
}

func oneOf(v *term, items []*term) (func(*snap.Site) bool, error) {
	tests := make([]func(*snap.Site) bool, len(items))
	var err error
	for i, item := range items {
		if tests[i], err = equal(v, item); err != nil {
			return nil, err
		}
	}
	return func(s *snap.Site) bool {
		for _, is := range tests {
			if is(s) {
				return true
			}
		}
		return false
	}, nil
}

// affix compiles contains, startsWith and endsWith on words.
func (l *lowering) affix(n *ast.BinaryNode) (*term, error) {
	v, err := l.term(n.Left)
	if err != nil {
		return nil, err
	}
	lit, err := l.term(n.Right)
	if err != nil {
		return nil, err
	}
	if v.kind != Word || v.code == nil || !lit.textLiteral() {
		return nil, &Error{At: n.Location().From, What: fmt.Sprintf("%s stands between a %s and a %s", n.Operator, v.what(), lit.what()), Want: `a word such as ups.source before it and a quoted text after it`}
	}
	test := map[string]func(s, part string) bool{
		"contains": strings.Contains, "startsWith": strings.HasPrefix, "endsWith": strings.HasSuffix,
	}[n.Operator]
	match := make([]bool, len(v.words))
	for i, w := range v.words {
		match[i] = test(w, lit.litText)
	}
	if !slices.Contains(match, true) {
		return nil, &Error{At: lit.at, What: fmt.Sprintf("no word that %s can be %s %q", v.name, n.Operator, lit.litText), Want: "a part of one of " + quoted(v.words)}
	}
	code := v.code
	return yesTerm(v.at, func(s *snap.Site) bool {
		i := int(code(s))
		return i < len(match) && match[i]
	}), nil
}
