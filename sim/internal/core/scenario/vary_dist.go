package scenario

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/vary"
	"ridethrough/sim/internal/phys/num"
)

// distReader reads the distribution of one quantity.
type distReader struct {
	src *source
	q   *Quantity
}

const distWanted = "one distribution, such as { uniform = [1, 2] }; docs/study.md has them all"

func (d *distReader) read(n *node) error {
	if n.shape != tableShape {
		return d.src.at(n.off, d.q.Path+" is "+describe(n), distWanted)
	}
	kind, err := d.kind(n)
	if err != nil {
		return err
	}
	d.q.dist.Kind = kind
	if err := d.parameters(n, n.kids[string(kind)]); err != nil {
		return err
	}
	if err := d.limits(n); err != nil {
		return err
	}
	if !d.q.dist.Prepare() {
		return d.src.at(n.off, d.q.Path+": nothing of the distribution is left within its limits", "wider limits")
	}
	return nil
}

// kind finds the one distribution that the table names.
func (d *distReader) kind(n *node) (kind vary.Kind, err error) {
	var known []string
	for _, k := range vary.Kinds() {
		known = append(known, string(k))
	}
	for _, name := range n.order {
		switch {
		case slices.Contains(known, name):
			if kind != "" {
				return "", d.src.at(n.kids[name].key, d.q.Path+" has two distributions", "one")
			}
			kind = vary.Kind(name)
		case name != "min" && name != "max" && name != "weights":
			p := d.src.at(n.kids[name].key, fmt.Sprintf("there is no distribution %q", short(name)), "one of "+strings.Join(known, ", "))
			p.Near = expect.Nearest(name, known)
			return "", p
		}
	}
	if kind == "" {
		return "", d.src.at(n.off, d.q.Path+" has no distribution", "one of "+strings.Join(known, ", "))
	}
	words := d.q.spot.kind() == wordKey
	if words && kind != vary.Choice && kind != vary.Grid && kind != vary.Constant {
		return "", d.src.at(n.kids[string(kind)].key, d.q.Path+" is no number", "choice, grid or constant")
	}
	return kind, nil
}

// parameters reads what the distribution has.
func (d *distReader) parameters(n, v *node) (err error) {
	x := &d.q.dist
	switch x.Kind {
	case vary.Uniformly:
		err = d.list(v, 2, 2, &x.A, &x.B)
		d.q.Text = fmt.Sprintf("uniform from %s to %s", d.text(x.A), d.text(x.B))
	case vary.Triangular:
		err = d.list(v, 3, 3, &x.A, &x.B, &x.C)
		d.q.Text = fmt.Sprintf("triangular from %s to %s, mode %s", d.text(x.A), d.text(x.C), d.text(x.B))
	case vary.Normal:
		err = d.table(v, param{"mean", &x.A, true, false}, param{"sd", &x.B, true, true})
		d.q.Text = fmt.Sprintf("normal, mean %s, sd %s", d.text(x.A), d.text(x.B))
	case vary.Lognormal:
		err = d.lognormal(v)
	case vary.Exponential:
		err = d.table(v, param{"mean", &x.A, true, true})
		d.q.Text = fmt.Sprintf("exponential, mean %s", d.text(x.A))
	case vary.Weibull:
		err = d.table(v, param{"shape", &x.A, false, true}, param{"scale", &x.B, true, true})
		d.q.Text = fmt.Sprintf("weibull, shape %.6g, scale %s", x.A, d.text(x.B))
	case vary.Constant:
		err = d.values(&node{shape: arrayShape, items: []*node{v}, off: v.off, key: v.key})
	default:
		err = d.values(v)
	}
	if err == nil && n.kids["weights"] != nil {
		err = d.weights(n.kids["weights"])
	}
	return err
}

func (d *distReader) lognormal(v *node) error {
	x := &d.q.dist
	other, name, unit := 0.0, "p95", true
	if v.shape == tableShape && v.kids["sigma"] != nil {
		name, unit = "sigma", false
	}
	if err := d.table(v, param{"median", &x.A, true, true}, param{name, &other, unit, true}); err != nil {
		return err
	}
	x.B = other
	d.q.Text = fmt.Sprintf("lognormal, median %s, sigma %.6g", d.text(x.A), other)
	if unit {
		if other <= x.A {
			return d.src.at(v.kids["p95"].off, "p95 is not above the median", "more")
		}
		x.B = num.Log(other/x.A) / vary.NormalQuantile(0.95)
		d.q.Text = fmt.Sprintf("lognormal, median %s, 95 %% below %s", d.text(x.A), d.text(other))
	}
	return nil
}

// param is a named parameter; unit says that it has the unit of the key.
type param struct {
	name        string
	to          *float64
	unit, above bool // above: it has to be above 0
}

func (d *distReader) table(v *node, params ...param) error {
	names := make([]string, len(params))
	for i, p := range params {
		names[i] = p.name
	}
	if v.shape != tableShape {
		return d.src.at(v.off, d.q.Path+" is "+describe(v), "a table of "+strings.Join(names, " and "))
	}
	for _, name := range v.order {
		if !slices.Contains(names, name) {
			p := d.src.at(v.kids[name].key, fmt.Sprintf("the distribution has no %q", short(name)), strings.Join(names, " and "))
			p.Near = expect.Nearest(name, names)
			return p
		}
	}
	for _, p := range params {
		kid := v.kids[p.name]
		if kid == nil {
			return d.src.at(v.off, "the distribution lacks "+p.name, strings.Join(names, " and "))
		}
		x, err := d.number(kid, p.unit)
		if err == nil && p.above && !(x > 0) {
			err = d.src.at(kid.off, p.name+" is "+describe(kid), "more than 0")
		}
		if err != nil {
			return err
		}
		*p.to = x
	}
	return nil
}

// list reads parameters that stand in ascending order.
func (d *distReader) list(v *node, least, most int, to ...*float64) error {
	if v.shape != arrayShape || len(v.items) < least || len(v.items) > most {
		return d.src.at(v.off, d.q.Path+" is "+describe(v), fmt.Sprintf("a list of %d values", least))
	}
	for i, item := range v.items {
		x, err := d.within(item)
		if err != nil {
			return err
		}
		if i > 0 && x < *to[i-1] {
			return d.src.at(item.off, "a value is smaller than the one before it", "ascending order")
		}
		*to[i] = x
	}
	return nil
}

const maxListed = 10_000

// values reads the values of a choice and the like.
func (d *distReader) values(v *node) error {
	if v.shape != arrayShape || len(v.items) == 0 || len(v.items) > maxListed {
		return d.src.at(v.off, d.q.Path+" is "+describe(v), fmt.Sprintf("a list of 1 to %d values", maxListed))
	}
	x, words := &d.q.dist, d.q.spot.kind() == wordKey
	var texts []string
	for i, item := range v.items {
		value := float64(i)
		if words {
			if item.shape != scalar {
				return d.src.at(item.off, d.q.Path+" is "+describe(item), wants(d.q.spot.field))
			}
			d.q.words, d.q.Labels = append(d.q.words, item), append(d.q.Labels, fmt.Sprint(item.val))
			if err := d.fits(item); err != nil {
				return err
			}
			texts = append(texts, fmt.Sprint(item.val))
		} else {
			var err error
			if value, err = d.within(item); err != nil {
				return err
			}
			texts = append(texts, d.text(value))
		}
		x.Values = append(x.Values, value)
	}
	d.q.Text = string(x.Kind) + " " + listing(texts)
	return nil
}

// fits binds a word to a field of its own, to see whether it may stand there.
func (d *distReader) fits(n *node) error {
	return (&binder{d.src}).scalar(n, d.q.spot.field, reflect.New(d.q.spot.field.plain()).Elem())
}

func listing(texts []string) string {
	if more := len(texts) - 6; more > 0 {
		return fmt.Sprintf("of %s and %d more", strings.Join(texts[:6], ", "), more)
	}
	return "of " + strings.Join(texts, ", ")
}

func (d *distReader) weights(v *node) error {
	x := &d.q.dist
	if x.Kind != vary.Choice || v.shape != arrayShape || len(v.items) != len(x.Values) {
		return d.src.at(v.off, "weights is "+describe(v), "beside choice, a list with one number for each value")
	}
	total := 0.0
	var texts []string
	for _, item := range v.items {
		w, err := d.number(item, false)
		if err != nil || !(w >= 0 && w <= 1e9) {
			return d.src.at(item.off, "a weight is "+describe(item), "a number from 0 to 1e9")
		}
		x.Weights = append(x.Weights, w)
		texts = append(texts, fmt.Sprintf("%.6g", w))
		total += w
	}
	if total <= 0 {
		return d.src.at(v.off, "all weights are 0", "one above 0")
	}
	d.q.Text += ", weights " + strings.TrimPrefix(listing(texts), "of ")
	return nil
}
