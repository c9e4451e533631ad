package figure

import "gonum.org/v1/plot/vg"

// finest is the width below which the eye sees no more: a ninth of a millimetre, in
// print too.
const finest = vg.Length(0.3)

// piece is a span, or several that are too narrow to be told apart, as it is drawn.
type piece struct {
	Span
	from, to vg.Length
	mixed    bool // several: it has the tone of the worst of them, Busy at least if they differ, and no text
}

// seen are the pieces of a band. However often something changes, there are not many
// more than fit beside each other.
func (s *Stack) seen(spans []Span) (list []piece) {
	for i, span := range spans {
		until := s.Until
		if i+1 < len(spans) {
			until = spans[i+1].From
		}
		p := piece{Span: span, from: s.at(span.From), to: s.at(until)}
		if p.to <= p.from {
			continue
		}
		if n := len(list); n > 0 && p.narrow() && list[n-1].narrow() {
			last := &list[n-1]
			if worst := max(last.Tone, p.Tone); worst != min(last.Tone, p.Tone) {
				last.Tone = max(worst, Busy) // to and fro is neither
			}
			last.to, last.mixed, last.Text = p.to, true, ""
			continue
		}
		list = append(list, p)
	}
	return list
}

func (p *piece) narrow() bool { return p.to-p.from < finest }

// visible leaves out of a line the points that nobody sees: of those that stand above
// one another the first, the lowest, the highest and the last do (M4; Jugel, Jerzak,
// Hackenbroich and Markl, PVLDB 7 (2014) 797).
func visible(points []vg.Point) []vg.Point {
	var out []vg.Point
	for i := 0; i < len(points); {
		column, j := int(points[i].X/finest), i+1
		for j < len(points) && int(points[j].X/finest) == column {
			j++
		}
		out = append(out, corners(points[i:j])...)
		i = j
	}
	return out
}

// corners are the first, the lowest, the highest and the last of points, in their order.
func corners(points []vg.Point) []vg.Point {
	if len(points) <= 4 {
		return points
	}
	last := len(points) - 1
	low, high := 0, 0
	for i, p := range points {
		if p.Y < points[low].Y {
			low = i
		}
		if p.Y > points[high].Y {
			high = i
		}
	}
	out := []vg.Point{points[0]}
	for _, i := range []int{min(low, high), max(low, high), last} {
		if p := points[i]; p != out[len(out)-1] {
			out = append(out, p)
		}
	}
	return out
}
