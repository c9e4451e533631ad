package scenario

import (
	"fmt"
	"slices"
	"strconv"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/quirk"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// quirks are those that are in force from the beginning.
func (b *builder) quirks(tables []quirkTable) error {
	names := map[string]int{}
	for i := range tables {
		t := &tables[i]
		if err := b.unique(names, t.at("name"), "the quirks", t.Name); err != nil {
			return err
		}
		q, err := b.quirk(t)
		if err != nil {
			return err
		}
		if !t.Off {
			b.plan.Card.Quirks = append(b.plan.Card.Quirks, q)
		}
	}
	return nil
}

// quirkAction is what an entry does to the quirks.
func (b *builder) quirkAction(t *quirkTable) (plan.Action, error) {
	switch {
	case t.Name != "all":
		q, err := b.quirk(t)
		return plan.Action{Kind: plan.ActQuirk, On: !t.Off, Quirk: q}, err
	case !t.Off:
		return plan.Action{}, b.src.at(t.at("name"), `"all" quirks cannot come into force at once`, "off = true beside it, or the name of one")
	}
	return plan.Action{Kind: plan.ActQuirk}, nil
}

// quirk is the quirk that t names with its settings.
func (b *builder) quirk(t *quirkTable) (snap.Quirk, error) {
	kind := snap.QuirkByName(t.Name)
	if kind == 0 {
		p := b.src.at(t.at("name"), fmt.Sprintf("there is no quirk %q", short(t.Name)), "one of those in docs/quirks.md")
		p.Near = expect.Nearest(t.Name, quirk.Names())
		return snap.Quirk{}, p
	}
	e := quirk.Of(kind)
	q := e.Quirk()
	for _, set := range []func(*quirkTable, *quirk.Entry, *snap.Quirk) error{b.quirkObjects, b.quirkAlarms, b.quirkNumbers, b.quirkTimes} {
		if err := set(t, e, &q); err != nil {
			return q, err
		}
	}
	return q, nil
}

func (b *builder) quirkObjects(t *quirkTable, e *quirk.Entry, q *snap.Quirk) error {
	switch {
	case t.has("objects") && e.Objects == quirk.NoObjects:
		return b.noSetting(t, "objects")
	case len(t.Objects) > 0:
		q.Objects = t.Objects
	case e.Objects != quirk.NoObjects && (t.has("objects") || len(e.DefaultObjects) == 0 && !t.Off):
		return b.src.at(t.at("objects"), t.Name+" has no objects", `objects = ["upsBatteryVoltage"] or others`)
	}
	for i, name := range t.Objects {
		if o := snap.ObjectByName(name); o == nil || !e.Allows(o) {
			p := b.src.at(t.node.kids["objects"].items[i].off, fmt.Sprintf("%s cannot touch %q", t.Name, short(name)), "an object of RFC 1628"+map[quirk.Objects]string{
				quirk.Numbers: " that is a number", quirk.Codes: " that is an enumeration"}[e.Objects])
			p.Near = expect.Nearest(name, e.Choice())
			return p
		}
	}
	return nil
}

func (b *builder) quirkAlarms(t *quirkTable, e *quirk.Entry, q *snap.Quirk) error {
	switch {
	case t.has("alarms") && !e.Alarms:
		return b.noSetting(t, "alarms")
	case e.Alarms && len(t.Alarms) == 0 && !t.Off:
		return b.src.at(t.at("alarms"), t.Name+" has no alarms", `alarms = ["battery_bad"] or others`)
	}
	for i, name := range t.Alarms {
		kind, err := b.alarmNamed(t.node.kids["alarms"].items[i].off, name)
		if err != nil {
			return err
		}
		if !slices.Contains(q.Alarms, kind) {
			q.Alarms = append(q.Alarms, kind)
		}
	}
	return nil
}

func (b *builder) quirkNumbers(t *quirkTable, e *quirk.Entry, q *snap.Quirk) error {
	for _, n := range []struct {
		key   string
		given bool
		value float64
		limit quirk.Range
		put   func(float64)
	}{
		{"count", t.Count != nil, float64(or(t.Count, 0)), e.Count, func(v float64) { q.Count = int(v) }},
		{"value", t.Value != nil, float64(or(t.Value, 0)), e.Value, func(v float64) { q.Value = int64(v) }},
		{"percent", t.Percent != nil, or(t.Percent, 0), e.Percent, func(v float64) { q.Percent = v }},
	} {
		switch {
		case !n.given:
			continue
		case n.limit == quirk.Range{}:
			return b.noSetting(t, n.key)
		case n.value < n.limit.Min || n.value > n.limit.Max:
			return b.src.at(t.at(n.key), fmt.Sprintf("%s is %s", n.key, plainNumber(n.value)), fmt.Sprintf("from %s to %s for %s", plainNumber(n.limit.Min), plainNumber(n.limit.Max), t.Name))
		}
		n.put(n.value)
	}
	return nil
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func (b *builder) quirkTimes(t *quirkTable, e *quirk.Entry, q *snap.Quirk) error {
	for _, d := range []struct {
		key   string
		given *vtime.Tick
		limit quirk.Span
		to    *vtime.Tick
	}{
		{"delay", t.Delay, e.Delay, &q.Delay}, {"lasts", t.Lasts, e.Lasts, &q.Lasts},
	} {
		switch {
		case d.given == nil:
			continue
		case d.limit == quirk.Span{}:
			return b.noSetting(t, d.key)
		case *d.given < d.limit.Min || *d.given > d.limit.Max:
			return b.src.at(t.at(d.key), fmt.Sprintf("%s is %v", d.key, *d.given), fmt.Sprintf("from %v to %v for %s", d.limit.Min.Duration(), d.limit.Max.Duration(), t.Name))
		}
		*d.to = *d.given
	}
	return nil
}

// noSetting refuses a setting that the quirk does not have.
func (b *builder) noSetting(t *quirkTable, key string) error {
	return b.src.at(t.at(key), fmt.Sprintf("%s has no %s", t.Name, key), "only the settings that docs/quirks.md lists for it")
}
