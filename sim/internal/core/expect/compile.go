package expect

import (
	"errors"
	"fmt"
	"strings"

	"github.com/expr-lang/expr/checker"
	"github.com/expr-lang/expr/conf"
	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/parser"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// MaxText is the longest condition in bytes. It bounds how deep an expression
// can nest, and with it the recursion of parser, checker and compiler.
const MaxText = 1000

// Names are the hosts, groups, probes and contacts of a scenario, in the order of its
// snapshots.
type Names struct {
	Hosts, Groups, Probes, Contacts []string
	Peers, Switches                 []string
	Recipients, Collectors          []string // of the card's settings
	Sinks                           []SinkNames
	Units                           []string // further ones
}

// Compiler turns conditions into closures. It is not safe for concurrent use.
type Compiler struct {
	root   *branch
	config *conf.Config
}

// NewCompiler is a compiler for a site with those hosts and groups.
func NewCompiler(n Names) *Compiler {
	vars := siteVariables()
	vars = append(vars, alarmVariables()...)
	vars = append(vars, sentVariables()...)
	for i, name := range n.Hosts {
		vars = append(vars, hostVariables(name, i)...)
	}
	for i, name := range n.Groups {
		vars = append(vars, groupVariables(name, i)...)
	}
	for i, name := range n.Units {
		vars = append(vars, unitVariablesOf(name, i, n.Peers)...)
	}
	for _, name := range n.Probes {
		vars = append(vars, probeVariables(name)...)
	}
	for _, name := range n.Contacts {
		vars = append(vars, contactVariables(name)...)
	}
	for _, name := range n.Recipients {
		vars = append(vars, recipientVariables(name)...)
	}
	for _, name := range n.Collectors {
		vars = append(vars, collectorVariables(name)...)
	}
	for i, sink := range n.Sinks {
		vars = append(vars, sinkVariables(sink, i)...)
	}
	for i, name := range n.Peers {
		vars = append(vars, peerVariables(name, i)...)
	}
	for i, name := range n.Switches {
		vars = append(vars, switchVariables(name, i)...)
	}
	root := newBranch("")
	root.child("recipients")
	root.child("collectors")
	root.child("sinks")
	root.child("hosts")
	root.child("groups")
	root.child("probes")
	root.child("contacts")
	root.child("peers")
	root.child("switches")
	for i := range vars {
		root.add(&vars[i])
	}
	return &Compiler{root: root, config: newConfig(root)}
}

// Error is a condition that does not compile.
type Error struct {
	At   int    // where in the text, in characters from 0
	What string // what is wrong
	Want string // what would be right, may be empty
	Near string // the name that was perhaps meant, may be empty
}

// Error is the message in one line, without a position.
func (e *Error) Error() string {
	text := e.What
	if e.Want != "" {
		text += "; expected " + e.Want
	}
	if e.Near != "" {
		text += fmt.Sprintf("; did you mean %q?", e.Near)
	}
	return text
}

// Compile checks text and makes a condition of it. Every error is an *Error.
func (c *Compiler) Compile(text string) (plan.Cond, error) {
	if len(text) > MaxText {
		return plan.Cond{}, &Error{What: "the condition is too long", Want: fmt.Sprintf("at most %d bytes", MaxText)}
	}
	if strings.TrimSpace(text) == "" {
		return plan.Cond{}, &Error{What: "the condition is empty", Want: `a claim such as "ups.on_battery"`}
	}
	tree, err := parser.ParseWithConfig(text, c.config)
	if err != nil {
		return plan.Cond{}, fromLibrary(err)
	}
	cond, err := c.lower(tree, text)
	if err != nil {
		return plan.Cond{}, err
	}
	if _, err := checker.Check(tree, c.config); err != nil {
		return plan.Cond{}, fromLibrary(err)
	}
	return cond, nil
}

func (c *Compiler) lower(tree *parser.Tree, text string) (plan.Cond, error) {
	l := &lowering{root: c.root}
	t, err := l.term(tree.Node)
	switch {
	case err != nil:
		return plan.Cond{}, err
	case t.kind != YesNo:
		return plan.Cond{}, &Error{At: t.at, What: "the condition is a " + t.what(), Want: "something that is true or false, such as a comparison"}
	case len(l.used) == 0:
		return plan.Cond{}, &Error{What: "the condition looks at nothing", Want: `a variable in it, such as "ups.on_battery"`}
	}
	return plan.Cond{Text: text, Eval: t.yes, Show: shower(l.used)}, nil
}

// fromLibrary turns an error of the expression library into ours.
func fromLibrary(err error) *Error {
	var e *file.Error
	if !errors.As(err, &e) {
		return &Error{What: oneLine(err.Error())}
	}
	return &Error{At: e.From, What: plainer(oneLine(e.Message))}
}

// plainer words the parser's commonest complaints for people who do not know
// what a token is.
func plainer(message string) string {
	token, ok := strings.CutPrefix(message, "unexpected token ")
	switch {
	case !ok:
		return message
	case token == "EOF":
		return "the condition ends too early"
	}
	if _, quoted, ok := strings.Cut(token, "("); ok {
		return "unexpected " + strings.TrimSuffix(quoted, ")")
	}
	return "unexpected " + token
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// shower prints what the variables of a condition were, for the verdict.
func shower(used []*Variable) func(*snap.Site) string {
	return func(s *snap.Site) string {
		parts := make([]string, len(used))
		for i, v := range used {
			parts[i] = v.Name + " = " + v.show(s)
		}
		return strings.Join(parts, ", ")
	}
}
