package cli

import (
	"context"

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
	cmd.MarkFlagsMutuallyExclusive("variants", "variant")
	cmd.MarkFlagsMutuallyExclusive("variants", "trace")
	return cmd
}

func (a *app) run(cmd *cobra.Command, args []string, f *runFlags) error {
	s, err := f.load(cmd, args)
	if err != nil {
		return err
	}
	defer f.files.discard()
	if err := f.open(); err != nil {
		return err
	}
	if f.variants {
		return a.runVariants(cmd.Context(), s, f)
	}
	result, err := play(cmd.Context(), s, f.resultFlags)
	if err != nil {
		return err
	}
	if err := f.publish(a, result); err != nil {
		return err
	}
	return verdict(result)
}

func play(ctx context.Context, s *sim.Scenario, f resultFlags) (*sim.Result, error) {
	return sim.Run(s, sim.RunOptions{Trace: f.traceTo, Done: ctx.Done()})
}
