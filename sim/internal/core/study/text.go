package study

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"
)

// reasonsShown is how many reasons a text names.
const reasonsShown = 4

// Text writes the study for people; brief, only the outcome in one line for each
// version.
func (r *Result) Text(w io.Writer, a Asked, brief bool) error {
	var b strings.Builder
	if !brief {
		h := r.Header
		fmt.Fprintf(&b, "%s\n%s, seed %d, %d runs%s\n\n", h.Title, h.Scenario, h.Seed, r.Played, r.interrupted())
		for i := range r.Versions {
			r.version(&b, &r.Versions[i], a)
		}
		for i := range r.Comparisons {
			r.comparison(&b, &r.Comparisons[i])
		}
	}
	for i := range r.Versions {
		v := &r.Versions[i]
		fmt.Fprintf(&b, "%s: %d of %d runs met everything: %s\n", label(v.Variant), v.Met, r.Played, percent(v.Success))
	}
	b.WriteString(r.verdict(a) + "\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func (r *Result) interrupted() string {
	if r.Played == r.Header.Runs {
		return ""
	}
	return fmt.Sprintf(" of %d, interrupted", r.Header.Runs)
}

func (r *Result) verdict(a Asked) string {
	word, of := "holds", "of the runs"
	if !r.Holds(a.Share, a.Sure) {
		word = "does not hold"
	}
	if a.Sure {
		of = "of all runs, with 95 % confidence"
	}
	return fmt.Sprintf("asked for %s %% %s: it %s", number(100*a.Share), of, word)
}

func label(variant string) string {
	if variant == "" {
		return "as it stands"
	}
	return "variant " + variant
}

// number is x with as many decimals as it needs, at most 4.
func number(x float64) string {
	text := decimals(x, 4).String()
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}

func percent(p Proportion) string {
	return fmt.Sprintf("%s %%, Wilson 95 %% %s to %s", decimals(100*p.Share, 2), decimals(100*p.Low, 2), decimals(100*p.High, 2))
}

func (r *Result) version(b *strings.Builder, v *VersionResult, a Asked) {
	fmt.Fprintf(b, "%s\n", strings.ToUpper(label(v.Variant)[:1])+label(v.Variant)[1:])
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprint(t, "\n  EXPECTATION\tMET\tMISSED\tNOT REACHED\n")
	for i := range v.Claims {
		c := &v.Claims[i]
		fmt.Fprintf(t, "  %s\t%s\t%d\t%d\n", c.Name, decimals(100*c.Share.Share, 2)+" %", c.Missed, c.NotReached)
	}
	fmt.Fprint(t, "\n  HOST\tCUT\tRUNS\tAWAY AT THE END\n")
	for i := range v.Hosts {
		h := &v.Hosts[i]
		fmt.Fprintf(t, "  %s\t%s\t%d\t%d\n", h.Name, decimals(100*h.Share.Share, 2)+" %", h.Cut, h.Away)
	}
	t.Flush() // into a buffer
	r.why(b, v)
	r.margin(b, v)
	r.sensitivity(b, v)
	if v.First > 0 {
		fmt.Fprintf(b, "\n  the first that failed is run %d; play it alone:\n    %s\n", v.First, a.Replay(v.Variant, v.First))
	}
	b.WriteString("\n")
}

func (r *Result) why(b *strings.Builder, v *VersionResult) {
	for i := range v.Claims {
		classesOf(b, "expectation "+v.Claims[i].Name, v.Claims[i].Why)
	}
	told := make([]bool, len(v.Hosts))
	for i := range v.Hosts {
		if told[i] {
			continue
		}
		names := []string{v.Hosts[i].Name}
		for k := i + 1; k < len(v.Hosts); k++ {
			if slices.Equal(v.Hosts[i].Why, v.Hosts[k].Why) {
				told[k] = true
				names = append(names, v.Hosts[k].Name)
			}
		}
		what := "host "
		if len(names) > 1 {
			what = "each of the hosts "
		}
		classesOf(b, what+listed(names, 8), v.Hosts[i].Why)
	}
}

func classesOf(b *strings.Builder, of string, list []Class) {
	if len(list) == 0 {
		return
	}
	fmt.Fprintf(b, "\n  why %s failed:\n", of)
	for i, c := range list {
		if i == reasonsShown {
			fmt.Fprintf(b, "    %d other reasons\n", len(list)-i)
			return
		}
		times := "once, in run"
		if c.Count > 1 {
			times = fmt.Sprintf("%d times, first in run", c.Count)
		}
		fmt.Fprintf(b, "    %s %d: %s\n", times, c.First, c.Text)
	}
}

func (r *Result) margin(b *strings.Builder, v *VersionResult) {
	if v.Seconds.Count == 0 {
		b.WriteString("\n  no margin: nothing ran on battery\n")
		return
	}
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprint(t, "\n  MARGIN\tLEAST\t1 %\t5 %\tMEDIAN\t95 %\tMOST\tMEAN\n")
	s, c := &v.Seconds, &v.Charge
	fmt.Fprintf(t, "  time to spare\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", span(s.Min), span(s.P1), span(s.P5), span(s.Median), span(s.P95), span(s.Most), span(s.Mean))
	p := func(x float64) string { return decimals(x, 1).String() + " %" }
	fmt.Fprintf(t, "  charge left\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", p(c.Min), p(c.P1), p(c.P5), p(c.Median), p(c.P95), p(c.Most), p(c.Mean))
	t.Flush()
}

// span is seconds as a person reads them.
func span(s float64) string {
	return (time.Duration(rounded(s)*10) * 100 * time.Millisecond).String()
}

func (r *Result) sensitivity(b *strings.Builder, v *VersionResult) {
	if len(v.Effects) == 0 || v.Seconds.Count == 0 {
		return
	}
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprint(t, "\n  TIME TO SPARE DEPENDS ON\tSHARE OF VARIANCE\tRANK CORRELATION\tONE UNIT MORE\tDISTRIBUTION\n")
	for i := range v.Effects {
		e := &v.Effects[i]
		share, rank, unit := "fixed", "", ""
		if e.Varies {
			share = decimals(100*e.Share, 1).String() + " %"
		} else if !e.Fixed {
			share = "constant"
		}
		if e.Varies && e.Labels == nil {
			rank, unit = decimals(e.Rank, 2).String(), decimals(e.PerUnit, 2).String()+" s"
			if e.Seconds {
				unit += " a second"
			}
		}
		fmt.Fprintf(t, "  %s\t%s\t%s\t%s\t%s\n", e.Path, share, rank, unit, e.Text)
	}
	t.Flush()
}

func (r *Result) comparison(b *strings.Builder, c *Comparison) {
	d := c.Difference
	fmt.Fprintf(b, "%s against %s, on the same draws\n", label(c.Variant), label(r.Versions[0].Variant))
	fmt.Fprintf(b, "  everything met in both %d, only %s %d, only %s %d, in neither %d\n", c.Both,
		label(r.Versions[0].Variant), c.OnlyFirst, label(c.Variant), c.OnlyThis, c.Neither)
	fmt.Fprintf(b, "  success %s points, 95 %% (Agresti and Min) %s to %s\n", signed(100*d.Share), signed(100*d.Low), signed(100*d.High))
	if c.Pairs > 0 {
		fmt.Fprintf(b, "  time to spare %s s, 95 %% %s to %s\n", signed(c.Margin), signed(c.MarginLow), signed(c.MarginHigh))
	}
	b.WriteString("\n")
}

func signed(x float64) string {
	text := decimals(x, 2).String()
	if x > 0 {
		return "+" + text
	}
	return text
}
