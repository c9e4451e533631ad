package cli

import (
	"time"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

type budgetFlags struct {
	begin, margin      time.Duration
	stopPct, spreadPct float64
	probability        float64
	draws              int
	asJSON             bool
}

func (a *app) budgetCommand() *cobra.Command {
	f, o, unit := &loadFlags{}, &budgetFlags{}, unitFlag("")
	cmd := &cobra.Command{
		Use:   "budget SCENARIO",
		Short: "Hold what a shutdown takes against what the battery gives",
		Long: "Work out the shutdown budget of a site (docs/budget.md): for each host and outlet group\n" +
			"the chain from the loss of the mains to its last stop, against the battery as it is and\n" +
			"at the end of its life, at the coldest and the hottest of its place; the latest moment to\n" +
			"begin; settings with which every host stops cleanly; and what breaks first when one number\n" +
			"slips. The exit code is 1 if the budget does not hold.\n\n" +
			"The policy of the scenario decides, or --begin says when the software under test does.\n" +
			"Stop times count --stop-margin longer than the scenario has them (common practice: the\n" +
			"longest that was measured and a quarter more). With --probability stop times and loads\n" +
			"vary as [vary] of the scenario says, with --stop-spread stop times by a rule of our own, and\n" +
			"every host has to be clean with that probability.\n\n" +
			"It proves no real battery and no real stop time: measure both on site.",
		Args: between(1, 1, "SCENARIO"),
		RunE: func(cmd *cobra.Command, args []string) error {
			options, err := o.options(cmd)
			if err != nil {
				return err
			}
			s, err := f.load(cmd, args)
			if err != nil {
				return err
			}
			if s, err = s.Alone(string(unit)); err != nil {
				return err
			}
			return a.budget(s, options, o.asJSON)
		},
	}
	cmd.Flags().DurationVar(&o.begin, "begin", 0, "`TIME` from the loss of the mains to the first order to stop, instead of the policy, 0s to 24h")
	cmd.Flags().DurationVar(&o.margin, "margin", sim.UsualMargin, "`TIME` that the battery has to carry on after the last stop, 0s to 24h")
	cmd.Flags().Float64Var(&o.stopPct, "stop-margin", sim.UsualStopMarginPct, "`PERCENT` by which stop times count longer, 0 to 1000; 0 where they vary, unless it is given")
	cmd.Flags().Float64Var(&o.spreadPct, "stop-spread", 0, "`PERCENT` that a stop may take longer at the very most, less likely the longer, 0 to 1000; 0: none varies")
	cmd.Flags().Float64Var(&o.probability, "probability", 0.99, "`P` with which every host has to be clean, 0.5 to 1: what [vary] says of hosts varies, or --stop-spread")
	cmd.Flags().IntVar(&o.draws, "draws", 1000, "`N` draws, 100 to 100000")
	cmd.Flags().BoolVar(&o.asJSON, "json", false, "write JSON (docs/json.md)")
	unit.add(cmd)
	f.add(cmd)
	return cmd
}

func (o *budgetFlags) options(cmd *cobra.Command) (sim.BudgetOptions, error) {
	given := cmd.Flags().Changed
	out := sim.BudgetOptions{Margin: o.margin, StopMarginPct: o.stopPct, StopSpreadPct: o.spreadPct, Probability: o.probability, Draws: o.draws}
	if given("begin") {
		out.Begin = &o.begin
	}
	out.Vary = o.spreadPct == 0 && given("probability")
	if (o.spreadPct > 0 || out.Vary) && !given("stop-margin") {
		out.StopMarginPct = 0
	}
	switch {
	case !wholeUpTo24h(o.begin):
		return out, usagef("--begin is %s: expected a time from 0s to 24h in whole milliseconds", o.begin)
	case !wholeUpTo24h(o.margin):
		return out, usagef("--margin is %s: expected a time from 0s to 24h in whole milliseconds", o.margin)
	case !(o.stopPct >= 0 && o.stopPct <= 1000):
		return out, usagef("--stop-margin is %g: expected 0 to 1000", o.stopPct)
	case !(o.spreadPct >= 0 && o.spreadPct <= 1000):
		return out, usagef("--stop-spread is %g: expected 0 to 1000", o.spreadPct)
	case !(o.probability >= 0.5 && o.probability <= 1):
		return out, usagef("--probability is %g: expected 0.5 to 1", o.probability)
	case o.draws < 100 || o.draws > 100_000:
		return out, usagef("--draws is %d: expected 100 to 100000", o.draws)
	case o.spreadPct == 0 && !out.Vary && given("draws"):
		return out, usagef("--draws says nothing where nothing varies: expected --stop-spread or --probability too")
	}
	return out, nil
}

func wholeUpTo24h(d time.Duration) bool {
	return d >= 0 && d <= 24*time.Hour && d%time.Millisecond == 0
}

func (a *app) budget(s *sim.Scenario, o sim.BudgetOptions, asJSON bool) error {
	b, err := s.Budget(o)
	if err != nil {
		return err
	}
	if asJSON {
		err = budgetJSON(a.out, b, &o)
	} else {
		err = budgetText(a.out, b, &o)
	}
	if err != nil {
		return err
	}
	if !b.Holds {
		return ended{exitMissed}
	}
	return nil
}
