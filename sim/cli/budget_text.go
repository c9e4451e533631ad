package cli

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"text/tabwriter"
	"time"

	"ridethrough/sim"
)

func budgetText(out io.Writer, b *sim.Budget, o *sim.BudgetOptions) error {
	w := bufio.NewWriter(out)
	fmt.Fprintln(w, budgetVerdict(b, o))
	for _, trouble := range b.Troubles {
		fmt.Fprintln(w, "trouble: "+trouble)
	}
	budgetConditions(w, b)
	budgetHosts(w, b)
	budgetGroups(w, b)
	budgetSettings(w, b)
	budgetSlips(w, b)
	return w.Flush()
}

func budgetVerdict(b *sim.Budget, o *sim.BudgetOptions) string {
	worst := &b.Conditions[b.Worst]
	word := "the budget holds"
	if !b.Holds {
		word = "THE BUDGET DOES NOT HOLD"
	}
	rule := fmt.Sprintf("stop times %g %% longer than planned", o.StopMarginPct)
	switch {
	case o.Vary:
		rule += ", hosts as [vary] has them"
	case o.StopSpreadPct > 0:
		rule += fmt.Sprintf(" and up to %g %% more by chance", o.StopSpreadPct)
	}
	if o.Vary || o.StopSpreadPct > 0 {
		rule += fmt.Sprintf(": every host clean in %.2f %% of %d draws, asked for %g %%", 100*b.Clean, o.Draws, 100*o.Probability)
	}
	return fmt.Sprintf("%s; worst condition: %s (%s; %s of battery left after the last stop)", word, worst.Name, rule, o.Margin)
}

// table is one part of the text: a heading line and rows of cells.
func table(w io.Writer, head string, rows func(row func(cells ...any))) {
	fmt.Fprintln(w)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, head)
	rows(func(cells ...any) {
		for i, c := range cells {
			if i > 0 {
				fmt.Fprint(t, "\t")
			}
			fmt.Fprint(t, c)
		}
		fmt.Fprintln(t)
	})
	t.Flush() // into a buffer, which tells of what went wrong
}

func budgetConditions(w io.Writer, b *sim.Budget) {
	table(w, "CONDITION\tRUNTIME\tFIRST ORDER\tLAST STOP\tLATEST ORDER\tTO SPARE\tCLEAN", func(row func(...any)) {
		for i := range b.Conditions {
			c := &b.Conditions[i]
			row(c.Name, clock(c.Runtime), clock(c.Begins), clock(c.LastStop), clock(c.Latest), clock(c.Spare), yesNo(c.Clean))
		}
	})
}

func budgetHosts(w io.Writer, b *sim.Budget) {
	c := &b.Conditions[b.Worst]
	table(w, "HOST\tDETECT\tDECIDE\tWAITS\tSTOP\tSTOPPED AT\tPOWER UNTIL\tCLEAN", func(row func(...any)) {
		for _, h := range b.Hosts {
			detect, decide := b.Seen, time.Duration(0)
			if c.Begins != sim.NotEver {
				detect = min(detect, c.Begins)
				decide = c.Begins - detect
			}
			row(h.Name, clock(detect), clock(decide), clock(h.Waits), clock(h.Stop), clock(h.Done), clock(h.Limit), yesNo(h.Clean))
		}
	})
}

func budgetGroups(w io.Writer, b *sim.Budget) {
	table(w, "GROUP\tLAST STOP\tOPENS\tCLEAN", func(row func(...any)) {
		for _, g := range b.Groups {
			row(g.Name, clock(g.LastStop), clock(g.Opens), yesNo(g.Clean))
		}
	})
}

func budgetSettings(w io.Writer, b *sim.Budget) {
	table(w, "SETTING\tAS SET\tNEEDED\tOK\tFOR", func(row func(...any)) {
		for i := range b.Settings {
			s := &b.Settings[i]
			needed := "none helps"
			if s.Needed != nil {
				needed = "at least "
				if s.Most {
					needed = "at most "
				}
				needed += whole(s.Needed, s.Unit)
				switch {
				case s.Write != nil && *s.Write != *s.Needed:
					needed += ", written as " + whole(s.Write, s.Unit)
				case s.Rounds && s.Write == nil:
					needed += ", more than a write can set"
				}
			}
			row(s.Name, whole(s.AsSet, s.Unit), needed, settingWord(s), s.What)
		}
	})
}

func settingWord(s *sim.BudgetSetting) string {
	if !s.Used {
		return "unused"
	}
	return yesNo(s.OK)
}

func budgetSlips(w io.Writer, b *sim.Budget) {
	if len(b.Slips) == 0 {
		return
	}
	table(w, "BREAKS FIRST\tAS PLANNED\tHOLDS TO\tROOM\tTHEN NOT CLEAN", func(row func(...any)) {
		for i := range b.Slips {
			s := &b.Slips[i]
			room, breaks := "-", s.Breaks
			if s.RoomPct != nil {
				room = fmt.Sprintf("%.0f %%", *s.RoomPct)
			}
			if breaks == "" {
				breaks = "nobody"
			}
			row(s.Name, figure(s.Plan, s.Unit), figure(s.Limit, s.Unit), room, breaks)
		}
	})
}

func whole(n *int64, unit string) string {
	if n == nil {
		return "-"
	}
	return strconv.FormatInt(*n, 10) + " " + unit
}

func figure(v float64, unit string) string {
	return strconv.FormatFloat(math.Round(10*v)/10, 'f', -1, 64) + " " + unit
}

// clock is d to the tenth of a second, towards zero.
func clock(d time.Duration) string {
	if d == sim.NotEver {
		return "never"
	}
	return d.Truncate(100 * time.Millisecond).String()
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "NO"
}
