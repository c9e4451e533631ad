package cli

import (
	"io"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

type runFlags struct {
	loadFlags
	resultFlags
	variants bool
}

func (a *app) runCommand() *cobra.Command {
	f := &runFlags{}
	cmd := &cobra.Command{
		Use:   "run [SCENARIO]",
		Short: "Play a scenario in virtual time and judge it",
		Long: "Play a scenario in virtual time, without sockets, and judge its expectations.\n" +
			"Without SCENARIO the built-in one is played.\n\n" +
			"With --variants the scenario is played as it stands, which has to meet every\n" +
			"expectation, and in each of its variants, which have to miss exactly what they name.",
		Args: between(0, 1, "SCENARIO"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.run(cmd, args, f) },
	}
	f.loadFlags.add(cmd)
	f.resultFlags.add(cmd)
	cmd.Flags().BoolVar(&f.variants, "variants", false, "play the scenario and all its variants")
	return cmd
}

func (a *app) run(cmd *cobra.Command, args []string, f *runFlags) error {
	switch {
	case f.variants && f.variant != "":
		return usagef("--variants plays every variant; --variant names one")
	case f.variants && f.trace != "":
		return usagef("--trace is for one run; --variants plays several")
	}
	if err := distinct(f.named(args)...); err != nil {
		return err
	}
	s, err := f.load(cmd, args)
	if err != nil {
		return err
	}
	defer f.files.discard()
	if err := f.open(); err != nil {
		return err
	}
	opts := sim.RunOptions{Trace: f.traceTo, Done: cmd.Context().Done()}
	if f.variants {
		return a.runVariants(s, opts, f)
	}
	result, err := sim.Run(s, opts)
	if err != nil {
		return err
	}
	if err := f.publish(a, result); err != nil {
		return err
	}
	return verdict(result.Met(), result.Interrupted)
}

func (a *app) runVariants(s *sim.Scenario, opts sim.RunOptions, f *runFlags) error {
	trials, err := sim.RunVariants(s, opts)
	if err != nil {
		return err
	}
	if err := f.publish(a, versions{trials}); err != nil {
		return err
	}
	return verdict(trials.Right(), trials.Interrupted())
}

// versions lets trials be published like a result.
type versions struct{ *sim.Trials }

func (v versions) Text(w io.Writer) error  { return v.Trials.Text(w, false) }
func (v versions) Brief(w io.Writer) error { return v.Trials.Text(w, true) }
