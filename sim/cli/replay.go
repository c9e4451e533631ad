package cli

import (
	"errors"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

func (a *app) replayCommand() *cobra.Command {
	f := &resultFlags{}
	cmd := &cobra.Command{
		Use:   "replay JOURNAL",
		Short: "Repeat a recorded session and compare",
		Long: "Repeat the session that serve --journal recorded, in virtual time, and compare its\n" +
			"trace line by line with the recorded one. The exit code is about that comparison;\n" +
			"what was met or missed is told, but was judged when the session was live. A session\n" +
			"that was killed is repeated as far as its journal goes.",
		Args: between(1, 1, "JOURNAL"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.replay(cmd, args[0], f) },
	}
	f.add(cmd)
	return cmd
}

func (a *app) replay(cmd *cobra.Command, path string, f *resultFlags) error {
	if err := distinct(f.named([]string{path})...); err != nil {
		return err
	}
	defer f.files.discard()
	if err := f.open(); err != nil {
		return err
	}
	result, err := sim.Replay(path, sim.ReplayOptions{
		Trace: f.traceTo, Report: f.wanted(), Done: cmd.Context().Done(), Log: func(line string) { a.say("%s", line) },
	})
	var mismatch *sim.MismatchError
	if err != nil && !errors.As(err, &mismatch) {
		return err
	}
	if err := f.publish(a, result); err != nil {
		return err
	}
	if mismatch != nil {
		return mismatch
	}
	return verdict(true, result.Interrupted)
}
