package scenario

import (
	"fmt"
	"math"
	"time"

	"ridethrough/sim/internal/core/vary"
	"ridethrough/sim/internal/core/vtime"
)

// limits are min and max, or those of the key.
func (d *distReader) limits(n *node) (err error) {
	x := &d.q.dist
	x.Low, x.High = d.keyLimits()
	if d.q.whole && x.Kind == vary.Uniformly {
		x.B++ // every whole number is as likely as every other: see Quantity.inTicks
	}
	for _, l := range []struct {
		name string
		to   *float64
	}{{"min", &x.Low}, {"max", &x.High}} {
		kid := n.kids[l.name]
		if kid == nil {
			continue
		}
		if !x.Cut() {
			return d.src.at(kid.key, fmt.Sprintf("%s stands beside %s", l.name, x.Kind), "it beside normal, lognormal, exponential or weibull")
		}
		if *l.to, err = d.within(kid); err != nil {
			return err
		}
		d.q.Text += ", " + l.name + " " + d.text(*l.to)
	}
	return nil
}

// keyLimits is what the key may be; words have none.
func (d *distReader) keyLimits() (low, high float64) {
	tag := d.q.spot.field.tag
	low, high = number(d.tagNumber(tag.Get("min"))), math.Inf(1)
	if top := tag.Get("max"); top != "" {
		high = number(d.tagNumber(top))
	}
	return low, high
}

// tagNumber is a limit of the schema as a number: durations in milliseconds.
func (d *distReader) tagNumber(text string) string {
	if d.q.spot.kind() != spanKey {
		if d.q.spot.kind() == wordKey {
			return ""
		}
		return text
	}
	return fmt.Sprint(span(text).Milliseconds())
}

// within is a value that the key may have.
func (d *distReader) within(n *node) (float64, error) {
	x, err := d.number(n, true)
	if err != nil {
		return 0, err
	}
	if low, high := d.keyLimits(); x < low || x > high {
		return 0, d.src.at(n.off, d.q.Path+" is "+describe(n), wants(d.q.spot.field))
	}
	return x, nil
}

// number is a number, with unit in that of the key: a duration in milliseconds.
func (d *distReader) number(n *node, unit bool) (float64, error) {
	if unit && d.q.Seconds {
		text, ok := n.val.(string)
		span, err := time.ParseDuration(text)
		if !ok || err != nil || span%time.Millisecond != 0 {
			return 0, d.src.at(n.off, d.q.Path+" is "+describe(n), `a duration such as "90s"`)
		}
		return float64(vtime.FromDuration(span)), nil
	}
	switch v := n.val.(type) {
	case int64:
		return float64(v), nil
	case float64:
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			return v, nil
		}
	}
	return 0, d.src.at(n.off, d.q.Path+" is "+describe(n), "a number")
}

// text is a value in the unit of the key.
func (d *distReader) text(x float64) string { return d.q.TextOf(d.q.shown(x)) }
