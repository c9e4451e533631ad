package cli

import (
	"errors"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

type replayFlags struct {
	resultFlags
	as string
	// With --as source.
	scenario string
	load     loadFlags
	limits   []string
	// With --as verbatim.
	verbatim    sim.VerbatimOptions
	credentials string
}

// Flags that go with one way of replaying.
var (
	sourceFlags   = []string{"scenario", "variant", "seed", "limit"}
	verbatimFlags = []string{"snmp", "speed", "loop", "notify", "expose", "credentials", "ready-file"}
	journalFlags  = []string{"quiet", "junit", "trace", "report", "charts"}
)

func (a *app) replayCommand() *cobra.Command {
	f := &replayFlags{}
	cmd := &cobra.Command{
		Use:   "replay JOURNAL | replay BUNDLE --as source --scenario FILE | replay BUNDLE --as verbatim",
		Short: "Repeat a recorded session and compare, or play what was recorded of a card",
		Long: "Repeat the session that serve --journal recorded, in virtual time, and compare its\n" +
			"trace line by line with the recorded one. The exit code is about that comparison;\n" +
			"what was met or missed is told, but was judged when the session was live. A session\n" +
			"that was killed is repeated as far as its journal goes.\n\n" +
			"What record wrote of a real card, a bundle, is played in one of two ways. With --as\n" +
			"source its supply and load become the timeline of a scenario, which runs through the\n" +
			"incident; charge, runtime, voltages and what fed the output are compared, and exit\n" +
			"code 1 says that something is above its limit. With --as verbatim it is served by SNMP\n" +
			"as it was. docs/record.md has both.",
		Args: between(1, 1, "JOURNAL or BUNDLE"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.replayAs(cmd, args[0], f) },
	}
	f.add(cmd)
	flags := cmd.Flags()
	flags.StringVar(&f.as, "as", "", "play a bundle as `source` of a scenario, or verbatim")
	flags.StringVar(&f.scenario, "scenario", "", "`FILE` of the scenario that runs through the incident (source)")
	f.load.add(cmd)
	flags.StringArrayVar(&f.limits, "limit", nil, "`QUANTITY=N`: charge (points), runtime, output_voltage, battery_voltage (percent), battery_temperature (K) or transitions (readings) may be apart by N; repeatable (source)")
	flags.StringVar(&f.verbatim.SNMP, "snmp", "127.0.0.1:0", "`HOST:PORT` of the SNMP agent (verbatim)")
	flags.Float64Var(&f.verbatim.Speed, "speed", 1, "recorded seconds per real second, `0.1 to 3600` (verbatim)")
	flags.BoolVar(&f.verbatim.Loop, "loop", false, "begin again at the end (verbatim)")
	flags.StringVar(&f.verbatim.Receiver, "notify", "", "`HOST:PORT` where the recorded notifications go, in SNMPv2c (verbatim)")
	flags.BoolVar(&f.verbatim.Expose, "expose", false, "allow addresses that are not loopback (verbatim)")
	flags.StringVar(&f.credentials, "credentials", "", "`FILE` with who may read, as for record (verbatim; default the environment)")
	flags.StringVar(&f.verbatim.ReadyFile, "ready-file", "", "write the ready record to `FILE` (verbatim)")
	return cmd
}

func (a *app) replayAs(cmd *cobra.Command, path string, f *replayFlags) error {
	wrong := map[string][][]string{
		"":         {sourceFlags, verbatimFlags},
		"source":   {verbatimFlags, journalFlags},
		"verbatim": {sourceFlags, journalFlags, {"json"}},
	}
	others, known := wrong[f.as]
	if !known {
		return usagef("--as %q: expected source or verbatim", f.as)
	}
	for _, list := range others {
		for _, name := range list {
			if !cmd.Flags().Changed(name) {
				continue
			}
			if f.as == "" {
				return usagef("--%s is for a bundle: it goes with --as", name)
			}
			return usagef("--%s does not go with --as %s", name, f.as)
		}
	}
	switch f.as {
	case "source":
		return a.replaySource(cmd, path, f)
	case "verbatim":
		return a.replayVerbatim(cmd, path, f)
	}
	return a.replay(cmd, path, &f.resultFlags)
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
