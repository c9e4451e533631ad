package expect

import (
	"fmt"
	"math"

	"github.com/expr-lang/expr/ast"

	"ridethrough/sim/internal/core/snap"
)

var functions = []string{"min", "max", "abs"}

func (l *lowering) call(n *ast.CallNode) (*term, error) {
	name := "this"
	if id, ok := n.Callee.(*ast.IdentifierNode); ok {
		name = id.Value
	}
	return l.function(n.Location().From, name, n.Arguments)
}

func (l *lowering) function(at int, name string, args []ast.Node) (*term, error) {
	terms := make([]*term, len(args))
	fold := map[string]func(a, b float64) float64{"min": math.Min, "max": math.Max, "abs": nil}
	f, known := fold[name]
	if !known {
		return nil, &Error{At: at, What: fmt.Sprintf("there is no function %q", name), Want: "min, max or abs", Near: Nearest(name, functions)}
	}
	whole := true
	for i, arg := range args {
		t, err := l.number(arg, "in "+name)
		if err != nil {
			return nil, err
		}
		terms[i], whole = t, whole && !t.fraction
	}
	switch {
	case name == "abs" && len(terms) == 1:
		x := terms[0].num
		return computed(at, whole, func(s *snap.Site) float64 { return math.Abs(x(s)) }), nil
	case name == "abs":
		return nil, &Error{At: at, What: fmt.Sprintf("abs has %d arguments", len(terms)), Want: "one"}
	case len(terms) < 2:
		return nil, &Error{At: at, What: fmt.Sprintf("%s has %d arguments", name, len(terms)), Want: "two or more"}
	}
	return computed(at, whole, folded(terms, f)), nil
}

func folded(terms []*term, f func(a, b float64) float64) func(*snap.Site) float64 {
	return func(s *snap.Site) float64 {
		v := terms[0].num(s)
		for _, t := range terms[1:] {
			v = f(v, t.num(s))
		}
		return v
	}
}

func (l *lowering) unary(n *ast.UnaryNode) (*term, error) {
	at := n.Location().From
	switch n.Operator {
	case "!", "not":
		t, err := l.yesNo(n.Node, "after "+n.Operator)
		if err != nil {
			return nil, err
		}
		f := t.yes
		return yesTerm(at, func(s *snap.Site) bool { return !f(s) }), nil
	case "-", "+":
		t, err := l.number(n.Node, "after "+n.Operator)
		if err != nil || n.Operator == "+" {
			return t, err
		}
		if t.literal {
			return numberTerm(at, -t.litNum, !t.fraction), nil
		}
		f := t.num
		return computed(at, !t.fraction, func(s *snap.Site) float64 { return -f(s) }), nil
	}
	return nil, noOperator(at, n.Operator)
}

func noOperator(at int, op string) *Error {
	return &Error{At: at, What: fmt.Sprintf("the operator %q is not part of the language", op), Want: "== != < <= > >= and or not + - * / % in contains startsWith endsWith"}
}

// numbers compiles both sides.
func (l *lowering) numbers(n *ast.BinaryNode) (a, b *term, err error) {
	if a, err = l.number(n.Left, "before "+n.Operator); err != nil {
		return nil, nil, err
	}
	b, err = l.number(n.Right, "after "+n.Operator)
	return a, b, err
}

// arithmetic compiles + - * / %. Two literals are computed at once.
func (l *lowering) arithmetic(n *ast.BinaryNode) (*term, error) {
	a, b, err := l.numbers(n)
	if err != nil {
		return nil, err
	}
	whole := !a.fraction && !b.fraction && n.Operator != "/"
	if n.Operator == "%" && !whole {
		return nil, &Error{At: n.Location().From, What: "% stands beside a number with a fraction", Want: "whole numbers on both sides"}
	}
	if b.literal && b.litNum == 0 && (n.Operator == "/" || n.Operator == "%") {
		return nil, &Error{At: b.at, What: "division by zero", Want: "another divisor"}
	}
	f := operation(n.Operator, a.num, b.num)
	if a.literal && b.literal {
		return numberTerm(a.at, f(nil), whole), nil
	}
	return computed(a.at, whole, f), nil
}

func operation(op string, x, y func(*snap.Site) float64) func(*snap.Site) float64 {
	switch op {
	case "+":
		return func(s *snap.Site) float64 { return x(s) + y(s) }
	case "-":
		return func(s *snap.Site) float64 { return x(s) - y(s) }
	case "*":
		return func(s *snap.Site) float64 { return x(s) * y(s) }
	case "/":
		return func(s *snap.Site) float64 { return x(s) / y(s) }
	default: // "%": not a number when y is 0, and so never true in a comparison
		return func(s *snap.Site) float64 { return math.Mod(x(s), y(s)) }
	}
}
