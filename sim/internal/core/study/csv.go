package study

import (
	"encoding/csv"
	"io"
	"strconv"

	"ridethrough/sim/internal/core/vary"
)

// CSV writes a line for each run and version: its number, variant and master seed,
// whether it met everything, its margin, its draws, and a column for each expectation
// and host. The columns are those of the first version.
func CSV(w io.Writer, h *Header, runs []Run) error {
	out := csv.NewWriter(w)
	first := &h.Versions[0]
	head := []string{"run", "variant", "run_seed", "met", "margin_s", "charge_left_pct"}
	for _, q := range first.Quantities {
		name := q.Path
		if q.Seconds {
			name += " (s)"
		}
		head = append(head, name)
	}
	for _, c := range first.Claims {
		head = append(head, "expect: "+c.Name)
	}
	for _, name := range first.Hosts {
		head = append(head, "host: "+name)
	}
	if err := out.Write(head); err != nil {
		return err
	}
	for i := range runs {
		for v := range runs[i].Versions {
			if err := out.Write(row(h, v, &runs[i])); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

func row(h *Header, version int, r *Run) []string {
	v, o := &h.Versions[version], &r.Versions[version]
	line := []string{strconv.Itoa(r.Number), v.Variant, strconv.FormatUint(vary.RunSeed(h.Seed, r.Number), 10), strconv.FormatBool(o.Met()), "", ""}
	if o.Margin != nil {
		line[4], line[5] = exact(o.Margin.Seconds), exact(o.Margin.ChargePct)
	}
	for i, d := range o.Draws {
		q := &v.Quantities[i]
		switch {
		case q.Fixed:
			line = append(line, "")
		case q.Labels != nil:
			line = append(line, q.Labels[int(d)])
		default:
			line = append(line, exact(d))
		}
	}
	words := map[byte]string{metLetter: "met", missedLetter: "missed", unreachedLetter: "not-reached", workLetter: "at-work", cutLetter: "cut", awayLetter: "away"}
	for _, letters := range []string{o.Claims, o.Hosts} {
		for i := range letters {
			line = append(line, words[letters[i]])
		}
	}
	return line
}

func exact(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }
