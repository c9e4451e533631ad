package expect

import (
	"fmt"

	"github.com/expr-lang/expr/ast"

	"ridethrough/sim/internal/core/snap"
)

func (l *lowering) binary(n *ast.BinaryNode) (*term, error) {
	switch n.Operator {
	case "and", "&&", "or", "||":
		return l.logic(n)
	case "<", "<=", ">", ">=":
		return l.order(n)
	case "==", "!=":
		return l.equality(n)
	case "in":
		return l.membership(n)
	case "contains", "startsWith", "endsWith":
		return l.affix(n)
	case "+", "-", "*", "/", "%":
		return l.arithmetic(n)
	}
	return nil, noOperator(n.Location().From, n.Operator)
}

func (l *lowering) logic(n *ast.BinaryNode) (*term, error) {
	a, err := l.yesNo(n.Left, "before "+n.Operator)
	if err != nil {
		return nil, err
	}
	b, err := l.yesNo(n.Right, "after "+n.Operator)
	if err != nil {
		return nil, err
	}
	x, y := a.yes, b.yes
	if n.Operator == "and" || n.Operator == "&&" {
		return yesTerm(a.at, func(s *snap.Site) bool { return x(s) && y(s) }), nil
	}
	return yesTerm(a.at, func(s *snap.Site) bool { return x(s) || y(s) }), nil
}

func (l *lowering) order(n *ast.BinaryNode) (*term, error) {
	a, b, err := l.numbers(n)
	if err != nil {
		return nil, err
	}
	return yesTerm(a.at, ordered(n.Operator, a, b)), nil
}

// ordered has a short way for the common comparison with a literal.
func ordered(op string, a, b *term) func(*snap.Site) bool {
	x, y, lit := a.num, b.num, b.litNum
	switch {
	case op == "<" && b.literal:
		return func(s *snap.Site) bool { return x(s) < lit }
	case op == "<":
		return func(s *snap.Site) bool { return x(s) < y(s) }
	case op == "<=" && b.literal:
		return func(s *snap.Site) bool { return x(s) <= lit }
	case op == "<=":
		return func(s *snap.Site) bool { return x(s) <= y(s) }
	case op == ">" && b.literal:
		return func(s *snap.Site) bool { return x(s) > lit }
	case op == ">":
		return func(s *snap.Site) bool { return x(s) > y(s) }
	case b.literal:
		return func(s *snap.Site) bool { return x(s) >= lit }
	default:
		return func(s *snap.Site) bool { return x(s) >= y(s) }
	}
}

func (l *lowering) equality(n *ast.BinaryNode) (*term, error) {
	a, err := l.term(n.Left)
	if err != nil {
		return nil, err
	}
	b, err := l.term(n.Right)
	if err != nil {
		return nil, err
	}
	same, err := equal(a, b)
	if err != nil || n.Operator == "==" {
		return yesTerm(a.at, same), err
	}
	return yesTerm(a.at, func(s *snap.Site) bool { return !same(s) }), nil
}

func equal(a, b *term) (func(*snap.Site) bool, error) {
	switch {
	case a.kind == YesNo && b.kind == YesNo:
		x, y := a.yes, b.yes
		return func(s *snap.Site) bool { return x(s) == y(s) }, nil
	case a.numeric() && b.numeric():
		x, y := a.num, b.num
		return func(s *snap.Site) bool { return x(s) == y(s) }, nil
	case a.kind == Address && b.textLiteral():
		return isAddress(a, b)
	case b.kind == Address && a.textLiteral():
		return isAddress(b, a)
	case a.kind == Word && b.textLiteral() && a.code != nil:
		return isWord(a, b)
	case b.kind == Word && a.textLiteral() && b.code != nil:
		return isWord(b, a)
	case a.kind == Word && b.kind == Word:
		x, y := a.text(), b.text()
		return func(s *snap.Site) bool { return x(s) == y(s) }, nil
	}
	return nil, &Error{At: b.at, What: fmt.Sprintf("a %s is compared with a %s", a.what(), b.what()), Want: "two values of the same kind"}
}
