package report

import (
	"fmt"
	"io"
	"strings"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/vtime"
)

// shortest is how many lines of the timeline tell how it came to a failure.
const shortest = 12

// Short writes what was not met, the last lines of the timeline before the first of
// it was decided, and the closing line.
func (r *Result) Short(w io.Writer) error {
	var b strings.Builder
	r.verdicts(&b, false)
	if lines := r.before(r.firstFailure()); len(lines) > 0 {
		fmt.Fprintf(&b, "before that:\n")
		for i := range lines {
			l := &lines[i]
			fmt.Fprintf(&b, "%12s  %-7s  %5.1f %%  %s: %s\n", l.Tick, l.Source, l.ChargePct, l.Subject, l.Text)
		}
	}
	return flush(w, &b, r.Closing())
}

// firstFailure is when the first expectation came out other than met.
func (r *Result) firstFailure() vtime.Tick {
	first := vtime.Never
	for i := range r.Verdicts {
		if v := &r.Verdicts[i]; v.State != expect.Met {
			first = min(first, v.At)
		}
	}
	return first
}

// before is the last lines of the timeline up to a time; none for never.
func (r *Result) before(end vtime.Tick) []Line {
	if end == vtime.Never {
		return nil
	}
	lines := r.Timeline()
	n := len(lines)
	for n > 0 && lines[n-1].Tick > end {
		n--
	}
	return lines[max(0, n-shortest):n]
}
