package scenario

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"ridethrough/sim/internal/core/vary"
	"ridethrough/sim/internal/core/vtime"
)

// Quantity is a key that [vary] names, and how it is distributed.
type Quantity struct {
	Path string // items of lists by their names where they have one
	// Seconds: it is a duration, which draws and Labels have in seconds.
	Seconds bool
	// Labels are the values of one that is no number; its draws are their indices.
	Labels []string
	Text   string // its distribution in words
	// Fixed: the variant sets the key, so that it does not vary there.
	Fixed bool

	dist  vary.Distribution // of durations in milliseconds
	whole bool
	words []*node // behind Labels
	spot  spot
	at    int // offset of the distribution
}

// Draw is its value in a run, counted from 1, of a study with that seed: a number in
// the unit of the key, seconds, or an index into Labels.
func (q *Quantity) Draw(seed uint64, run int) float64 {
	return q.shown(q.inTicks(run, vary.Uniform(seed, q.Path, run)))
}

// TextOf is a draw as a person reads it.
func (q *Quantity) TextOf(draw float64) string {
	switch {
	case q.Labels != nil:
		return q.Labels[int(draw)]
	case q.Seconds:
		return time.Duration(math.Round(draw * 1e9)).String()
	}
	return fmt.Sprintf("%.6g", draw)
}

// inTicks is the value for a uniform number, whole where the key is.
func (q *Quantity) inTicks(run int, u float64) float64 {
	x := q.dist.At(run-1, u)
	switch {
	case q.whole && q.dist.Kind == vary.Uniformly: // up to B, which is one more than the largest
		return min(math.Floor(x), q.dist.B-1)
	case q.whole || q.Seconds:
		return math.Floor(x + 0.5)
	}
	return x
}

func (q *Quantity) shown(x float64) float64 {
	if q.Seconds {
		return x / 1000
	}
	return x
}

// value is what would stand in the file for a draw.
func (q *Quantity) value(draw float64) any {
	switch {
	case q.words != nil:
		return q.words[int(draw)].val
	case q.Seconds:
		return vtime.Tick(math.Round(draw * 1000)).Duration().String()
	case q.whole:
		return int64(draw)
	}
	return draw
}

// quantities reads [vary]. Nested tables are followed until their path names a key.
func (r *reading) quantities() ([]Quantity, error) {
	if r.file.Vary == nil {
		return nil, nil
	}
	v := &varyReader{src: r.src, root: r.root}
	if err := v.table(r.file.Vary.node, ""); err != nil {
		return nil, err
	}
	stride := 1
	for i := range v.list {
		if d := &v.list[i].dist; d.Kind == vary.Grid {
			d.Stride = stride
			stride *= len(d.Values)
		}
	}
	return v.list, nil
}

type varyReader struct {
	src  *source
	root *node
	list []Quantity
}

// maxQuantities bounds what a study draws, keeps and prints for every run.
const maxQuantities = 64

func (v *varyReader) table(n *node, path string) error {
	for _, name := range n.order {
		kid := n.kids[name]
		at := strings.TrimPrefix(path+"."+name, ".")
		s, err := v.src.locate(v.root, at, kid.key)
		switch {
		case err != nil:
			return err
		case s.scalar():
			if err := v.quantity(s, kid); err != nil {
				return err
			}
		case kid.shape == tableShape:
			if err := v.table(kid, at); err != nil {
				return err
			}
		default:
			return v.src.at(kid.off, at+" is "+describe(kid), "a key below it and its distribution, such as "+at+".KEY = { uniform = [1, 2] }")
		}
	}
	return nil
}

func (v *varyReader) quantity(s spot, n *node) error {
	if slices.ContainsFunc(v.list, func(q Quantity) bool { return q.Path == s.path }) {
		return v.src.at(n.key, s.path+" is varied twice", "one distribution for each key")
	}
	if len(v.list) == maxQuantities {
		return v.src.at(n.key, fmt.Sprintf("[vary] names more than %d keys", maxQuantities), "fewer")
	}
	q := Quantity{Path: s.path, spot: s, at: n.off}
	q.Seconds, q.whole = s.kind() == spanKey, s.kind() == wholeKey
	d := &distReader{src: v.src, q: &q}
	if err := d.read(n); err != nil {
		return err
	}
	v.list = append(v.list, q)
	return nil
}
