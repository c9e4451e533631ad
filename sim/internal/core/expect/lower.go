package expect

import (
	"fmt"
	"slices"

	"github.com/expr-lang/expr/ast"

	"ridethrough/sim/internal/core/snap"
)

// maxParts bounds the parts of one condition. The parser lets the middle of
// a < b < c be part of two comparisons, so that nesting them in each other
// would double the work with every level.
const maxParts = 1000

// lowering makes closures of a parsed tree and notes the variables it met.
type lowering struct {
	root  *branch
	used  []*Variable
	parts int
}

func (l *lowering) term(n ast.Node) (*term, error) {
	at := n.Location().From
	if l.parts++; l.parts > maxParts {
		return nil, &Error{At: at, What: "the condition has too many parts", Want: "a simpler one"}
	}
	switch n := n.(type) {
	case *ast.BoolNode:
		v := n.Value
		return yesTerm(at, func(*snap.Site) bool { return v }), nil
	case *ast.IntegerNode:
		return numberTerm(at, float64(n.Value), true), nil
	case *ast.FloatNode:
		return numberTerm(at, n.Value, false), nil
	case *ast.StringNode:
		return textTerm(at, n.Value), nil
	case *ast.IdentifierNode, *ast.MemberNode:
		return l.variable(n)
	case *ast.UnaryNode:
		return l.unary(n)
	case *ast.BinaryNode:
		return l.binary(n)
	case *ast.ConditionalNode:
		return l.choice(n)
	case *ast.BuiltinNode:
		return l.function(at, n.Name, n.Arguments)
	case *ast.CallNode:
		return l.call(n)
	}
	return nil, &Error{At: at, What: "this kind of expression is not part of the language", Want: "comparisons, and, or, not, arithmetic, in, ? :, min, max, abs"}
}

// part is one piece of a dotted name and where it stands.
type part struct {
	name string
	at   int
}

func (l *lowering) variable(n ast.Node) (*term, error) {
	parts, err := dotted(n)
	if err != nil {
		return nil, err
	}
	b := l.root
	for _, p := range parts {
		if b.leaf != nil {
			return nil, &Error{At: p.at, What: fmt.Sprintf("%s is a single value and has no %q", b.name, p.name), Want: b.name + " alone"}
		}
		next := b.kids[p.name]
		if next == nil {
			return nil, b.unknown(p.name, p.at)
		}
		b = next
	}
	if b.leaf == nil {
		return nil, &Error{At: parts[0].at, What: b.name + " is not a value but a family of them", Want: "a dot and one of " + listed(b.order)}
	}
	if !slices.Contains(l.used, b.leaf) {
		l.used = append(l.used, b.leaf)
	}
	return b.leaf.term(parts[0].at), nil
}

// dotted takes a.b.c and a["b"].c apart.
func dotted(n ast.Node) ([]part, error) {
	at := n.Location().From
	switch n := n.(type) {
	case *ast.IdentifierNode:
		return []part{{n.Value, at}}, nil
	case *ast.MemberNode:
		parts, err := dotted(n.Node)
		if err != nil {
			return nil, err
		}
		name, ok := n.Property.(*ast.StringNode)
		if !ok || n.Optional {
			return nil, &Error{At: at, What: "a name cannot be computed", Want: "a dot and a name"}
		}
		return append(parts, part{name.Value, name.Location().From}), nil
	}
	return nil, &Error{At: at, What: "only a name can stand before a dot", Want: "a name such as ups.source"}
}

func (l *lowering) choice(n *ast.ConditionalNode) (*term, error) {
	cond, err := l.yesNo(n.Cond, "before ?")
	if err != nil {
		return nil, err
	}
	a, err := l.term(n.Exp1)
	if err != nil {
		return nil, err
	}
	b, err := l.term(n.Exp2)
	if err != nil {
		return nil, err
	}
	switch {
	case a.kind == YesNo && b.kind == YesNo:
		return yesTerm(cond.at, func(s *snap.Site) bool {
			if cond.yes(s) {
				return a.yes(s)
			}
			return b.yes(s)
		}), nil
	case a.numeric() && b.numeric():
		return computed(cond.at, !a.fraction && !b.fraction, func(s *snap.Site) float64 {
			if cond.yes(s) {
				return a.num(s)
			}
			return b.num(s)
		}), nil
	}
	return nil, &Error{At: b.at, What: fmt.Sprintf("the two sides of : are a %s and a %s", a.what(), b.what()), Want: "two numbers or two yes/no values"}
}

// yesNo compiles n and insists that it is true or false.
func (l *lowering) yesNo(n ast.Node, where string) (*term, error) {
	t, err := l.term(n)
	if err != nil {
		return nil, err
	}
	if t.kind != YesNo {
		return nil, &Error{At: t.at, What: fmt.Sprintf("a %s stands %s", t.what(), where), Want: "something that is true or false, such as a comparison"}
	}
	return t, nil
}

// number compiles n and insists that it is a number.
func (l *lowering) number(n ast.Node, where string) (*term, error) {
	t, err := l.term(n)
	if err != nil {
		return nil, err
	}
	if !t.numeric() {
		return nil, &Error{At: t.at, What: fmt.Sprintf("a %s stands %s", t.what(), where), Want: "a number"}
	}
	return t, nil
}
