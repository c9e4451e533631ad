package scenario

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

func (b *builder) entries() error {
	b.compiler = b.newCompiler(b.names)
	latest := vtime.Tick(0)
	names := map[string]int{}
	for i := range b.file.Entries {
		t := &b.file.Entries[i]
		if t.Name != nil {
			if err := b.unique(names, t.at("name"), "the timeline entries", *t.Name); err != nil {
				return err
			}
		}
		e, err := b.entry(t, &latest)
		if err != nil {
			return err
		}
		b.plan.Entries = append(b.plan.Entries, e)
	}
	return nil
}

// names is every name of the plan.
func (b *builder) names() expect.Names {
	var hosts []string
	for i := range b.plan.Hosts {
		hosts = append(hosts, b.plan.Hosts[i].Name)
	}
	return expect.Names{
		Hosts: hosts, Groups: b.groupNames(), Probes: b.probeNames(), Contacts: b.contactNames(), Peers: b.peerNames(),
		Switches: b.switchNames(), Recipients: b.recipientNames(), Collectors: b.collectorNames(),
		Sinks: b.sinkNames(), Units: b.unitNames(),
	}
}

func (b *builder) newCompiler(names func() expect.Names) *expect.Compiler {
	if b.kept == nil {
		return expect.NewCompiler(names())
	}
	if b.kept.compiler == nil {
		b.kept.compiler = expect.NewCompiler(names())
	}
	return b.kept.compiler
}

func (b *builder) entry(t *entryTable, latest *vtime.Tick) (plan.Entry, error) {
	e := plan.Entry{Line: b.src.line(t.node.key), At: vtime.Never, Note: t.Note}
	switch {
	case (t.Time == nil) == (t.When == nil):
		return e, b.src.at(t.at("when"), "[[at]] needs either time or when", "exactly one of them")
	case t.When != nil:
		when, err := b.condition(t.When)
		if err != nil {
			return e, err
		}
		e.When = &when
	case *t.Time > b.plan.RunFor:
		return e, b.src.at(t.at("time"), fmt.Sprintf("time %v is after the end of the run, %v", *t.Time, b.plan.RunFor), "a time up to run_for")
	case *t.Time < *latest:
		return e, b.src.at(t.at("time"), fmt.Sprintf("time %v is before that of an earlier entry, %v", *t.Time, *latest), "entries in order of time")
	default:
		e.At, *latest = *t.Time, *t.Time
	}
	var err error
	if e.Devices, err = b.devices(t); err != nil {
		return e, err
	}
	err = b.does(t, &e)
	return e, err
}

// does says of e what happens, and to which unit.
func (b *builder) does(t *entryTable, e *plan.Entry) (err error) {
	if err = b.forUnit(t); err != nil {
		return err
	}
	if e.Unit, err = b.unitOf(&t.table, t.Unit); err != nil {
		return err
	}
	e.Actions, err = b.of(e.Unit).actions(t)
	return err
}

// condition compiles c. A message of the compiler is moved to the place in the
// file where the text stands.
func (b *builder) condition(c *condition) (plan.Cond, error) {
	if b.kept != nil {
		if cond, have := b.kept.conds[c.text]; have {
			return cond, nil
		}
	}
	cond, err := b.compiler.Compile(c.text)
	if b.kept != nil && err == nil {
		b.kept.conds[c.text] = cond
	}
	var e *expect.Error
	if errors.As(err, &e) {
		p := b.src.at(b.src.inside(c.node, c.text, e.At), e.What, e.Want)
		p.Near = e.Near
		return cond, p
	}
	return cond, err
}

// inside is the offset of the i-th character of text, the value of n. A text
// that is written with escapes has no such place; its beginning must do.
func (s *source) inside(n *node, text string, i int) int {
	written := string(s.text[n.off:min(n.off+n.size, len(s.text))])
	start := strings.Index(written, text)
	if start < 0 {
		return n.off
	}
	runes := []rune(text)
	return n.off + start + len(string(runes[:min(i, len(runes))]))
}

func (b *builder) expects() error {
	names := map[string]int{}
	for i := range b.file.Expects {
		t := &b.file.Expects[i]
		if err := b.unique(names, t.at("name"), "the expectations", t.Name); err != nil {
			return err
		}
		e, err := b.expect(t)
		if err != nil {
			return err
		}
		b.plan.Expects = append(b.plan.Expects, e)
	}
	if _, err := expect.New(b.plan.Expects, b.plan.Entries); err != nil {
		return b.src.at(0, strings.TrimPrefix(err.Error(), "expect: "), "fewer")
	}
	return nil
}

func (b *builder) expect(t *expectTable) (plan.Expect, error) {
	e := plan.Expect{Line: b.src.line(t.node.key), Name: t.Name}
	if err := b.form(t, &e); err != nil {
		return e, err
	}
	var err error
	if e.That, err = b.condition(&t.That); err != nil {
		return e, err
	}
	for _, w := range []struct {
		from *condition
		to   **plan.Cond
	}{{t.After, &e.After}, {t.Until, &e.Until}} {
		if w.from == nil {
			continue
		}
		c, err := b.condition(w.from)
		if err != nil {
			return e, err
		}
		*w.to = &c
	}
	return e, nil
}

// form finds the one temporal form that is set.
func (b *builder) form(t *expectTable, e *plan.Expect) error {
	var given []string
	for _, f := range []struct {
		key  string
		flag *bool
		time *vtime.Tick
		form plan.ExpectForm
	}{
		{"always", t.Always, nil, plan.Always}, {"never", t.Never, nil, plan.NeverHolds}, {"once", t.Once, nil, plan.Once},
		{"at", nil, t.At, plan.At}, {"by", nil, t.By, plan.By}, {"within", nil, t.Within, plan.Within},
	} {
		if f.flag != nil && !*f.flag {
			return b.src.at(t.at(f.key), f.key+" is false", "true, or no such key")
		}
		if f.flag != nil || f.time != nil {
			given = append(given, f.key)
			e.Form, e.Time = f.form, or(f.time, 0)
		}
	}
	if len(given) != 1 {
		return b.src.at(t.node.key, fmt.Sprintf("the expectation has %d forms", len(given)), "exactly one of always, never, once, at, by, within")
	}
	if e.Form == plan.At && e.Time == vtime.Never {
		e.Form, e.Time = plan.AtEnd, 0
	}
	return b.windowed(t, e, given[0])
}

// windowed checks that the keys beside the form mean something.
func (b *builder) windowed(t *expectTable, e *plan.Expect, form string) error {
	switch {
	case form == "within" && t.After == nil:
		return b.src.at(t.at("within"), "within lacks after", "after, the condition from which the time counts")
	case (form == "at" || form == "by") && t.After != nil:
		return b.src.at(t.at("after"), "after means nothing beside "+form, "always, never, once or within beside it")
	case !slices.Contains([]string{"always", "never", "once"}, form) && t.Until != nil:
		return b.src.at(t.at("until"), "until means nothing beside "+form, "always, never or once beside it")
	case (form == "at" || form == "by") && e.Time > b.plan.RunFor:
		return b.src.at(t.at(form), fmt.Sprintf("%s %v is after the end of the run, %v", form, e.Time, b.plan.RunFor), "a time up to run_for")
	}
	return nil
}

// variants checks names; what a variant sets is checked when it is applied.
func (b *builder) variants() error {
	var expects []string
	for _, e := range b.plan.Expects {
		expects = append(expects, e.Name)
	}
	names := map[string]int{}
	for i := range b.file.Variants {
		t := &b.file.Variants[i]
		if err := b.unique(names, t.at("name"), "the variants", t.Name); err != nil {
			return err
		}
		for k, miss := range t.Misses {
			if !slices.Contains(expects, miss) {
				return b.missing(t.node.kids["misses"].items[k].off, "expectation", miss, expects)
			}
		}
	}
	return nil
}
