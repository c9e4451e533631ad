package cli

import (
	"github.com/spf13/cobra"

	"ridethrough/sim"
)

func (a *app) mergeCommand() *cobra.Command {
	f := &mergeFlags{}
	cmd := &cobra.Command{
		Use:   "merge FILE...",
		Short: "Put the shards of a study together",
		Long: "Put the files of all shards of a study together and tell what the study came to, byte\n" +
			"for byte as if it had been played at once. A shard that is missing, given twice, not\n" +
			"whole or of another study is refused.",
		Args: between(1, -1, "the FILE of each shard"),
		RunE: func(_ *cobra.Command, args []string) error { return a.merge(args, f) },
	}
	f.studyOutputs.add(cmd)
	cmd.Flags().BoolVar(&f.json, "json", false, "write the study as JSON (docs/json.md)")
	cmd.Flags().BoolVarP(&f.quiet, "quiet", "q", false, "write only the outcome")
	return cmd
}

type mergeFlags struct {
	studyOutputs
	json, quiet bool
}

func (a *app) merge(paths []string, f *mergeFlags) error {
	if f.json && f.quiet {
		return usagef("--json and --quiet exclude each other")
	}
	if err := f.check(); err != nil {
		return err
	}
	r, err := sim.MergeStudy(paths)
	if err != nil {
		return err
	}
	if err := f.open(); err != nil {
		return err
	}
	defer f.files.discard()
	if err := f.publish(a, r, r.Scenario(), f.json, f.quiet); err != nil {
		return err
	}
	return verdict(r.Holds(f.ask(r.Scenario(), r)), false)
}
