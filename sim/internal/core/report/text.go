package report

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/snap"
)

// A timeline longer than head and tail together is shown without its middle.
const head, tail = 120, 80

// Text writes the result for people: timeline, hosts, verdicts and one closing
// line.
func (r *Result) Text(w io.Writer) error {
	var b strings.Builder
	r.heading(&b)
	r.timeline(&b)
	r.hosts(&b)
	r.verdicts(&b, true)
	return flush(w, &b, r.Closing())
}

// Brief writes what went wrong, if anything, and the closing line.
func (r *Result) Brief(w io.Writer) error {
	var b strings.Builder
	r.verdicts(&b, false)
	return flush(w, &b, r.Closing())
}

func flush(w io.Writer, b *strings.Builder, closing string) error {
	b.WriteString(closing + "\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func (r *Result) heading(b *strings.Builder) {
	fmt.Fprintf(b, "%s\n%s\n\n", OneLine(r.Title), OneLine(r.origin()))
}

// origin is where the run came from.
func (r *Result) origin() string {
	text := r.Scenario
	if r.Variant != "" {
		text += ", variant " + r.Variant
	}
	return fmt.Sprintf("%s, seed %d, from %s", text, r.Seed, r.Start.Format(time.RFC3339))
}

func (r *Result) timeline(b *strings.Builder) {
	lines := r.Timeline()
	width := 0
	for i := range lines {
		width = max(width, utf8.RuneCountInString(lines[i].Subject))
	}
	fmt.Fprintf(b, "%12s  %-7s  %7s\n", "time", "fed by", "charge")
	for i := range lines {
		if skipped := len(lines) - tail - head; skipped > 0 && i >= head && i < len(lines)-tail {
			if i == head {
				fmt.Fprintf(b, "%12s  %d lines are left out; --trace has them\n", "...", skipped)
			}
			continue
		}
		l := &lines[i]
		fmt.Fprintf(b, "%12s  %-7s  %5.1f %%  %-*s  %s\n", l.Tick, l.Source, l.ChargePct, width, l.Subject, l.Text)
	}
	if r.Unkept > 0 {
		fmt.Fprintf(b, "%12s  %d later events are in the trace only\n", "...", r.Unkept)
	}
	b.WriteString("\n")
}

// hosts tells what became of every host, and what the card sent.
func (r *Result) hosts(b *strings.Builder) {
	width := 0
	for i := range r.Hosts {
		width = max(width, len(r.Hosts[i].Name))
	}
	for i := range r.Hosts {
		h := &r.Hosts[i]
		fmt.Fprintf(b, "host %-*s  %-8s  %s\n", width, h.Name, h.State, fate(h))
	}
	if sent := sentText(r.Sent); sent != "" {
		fmt.Fprintf(b, "notifications sent: %s\n", sent)
	}
	if len(r.Hosts) > 0 || r.Sent != (snap.Sent{}) {
		b.WriteString("\n")
	}
}

func fate(h *snap.Host) string {
	var parts []string
	for _, p := range []struct {
		n    int
		what string
	}{{h.Stops, "stopped cleanly"}, {h.Cuts, "cut"}, {h.Starts, "started"}} {
		switch {
		case p.n == 1:
			parts = append(parts, p.what+" once")
		case p.n > 1:
			parts = append(parts, fmt.Sprintf("%s %d times", p.what, p.n))
		}
	}
	if len(parts) == 0 {
		return "never stopped"
	}
	return strings.Join(parts, ", ")
}

func sentText(sent snap.Sent) string {
	var parts []string
	for k := snap.NotifyKind(1); k < snap.NotifyKinds; k++ {
		if n := sent[k]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, k))
		}
	}
	return strings.Join(parts, ", ")
}

// verdicts tells of every expectation, or of those that were not met.
func (r *Result) verdicts(b *strings.Builder, all bool) {
	for i := range r.Verdicts {
		v := &r.Verdicts[i]
		if v.State == expect.Met && !all {
			continue
		}
		fmt.Fprintf(b, "%-11s  %s: %s\n", v.State.Words(), OneLine(v.Name), OneLine(v.Because))
		if v.State != expect.Met {
			fmt.Fprintf(b, "%-11s  claimed: %s\n", "", OneLine(v.Form))
		}
	}
}

// Closing is the outcome in one line.
func (r *Result) Closing() string {
	how := "ended"
	if r.Interrupted {
		how = "interrupted"
	}
	return fmt.Sprintf("%s; %s at %s", r.outcome(), how, r.Ended)
}

func (r *Result) outcome() string {
	n := len(r.Verdicts)
	missed, notReached := r.count(expect.Missed), r.count(expect.NotReached)
	switch {
	case n == 0:
		return "the scenario expects nothing"
	case missed+notReached == 0:
		return fmt.Sprintf("%d of %d expectations met", n, n)
	}
	return fmt.Sprintf("%d of %d expectations met, %d missed, %d not reached", n-missed-notReached, n, missed, notReached)
}

// OneLine keeps text from outside on its line and out of a terminal's way:
// control characters, and what could pass for a line end, become spaces.
func OneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || r == '\ufffe' || r == '\uffff' {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
}
