package cli

import (
	"io"
	"time"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

type runFlags struct {
	loadFlags
	resultFlags
	variants bool
	device   int
	bundle   string
	interval time.Duration
}

func (a *app) runCommand() *cobra.Command {
	f := &runFlags{}
	cmd := &cobra.Command{
		Use:   "run [SCENARIO]",
		Short: "Play a scenario in virtual time and judge it",
		Long: "Play a scenario in virtual time, without sockets, and judge its expectations.\n" +
			"Without SCENARIO the built-in one is played.\n\n" +
			"With --variants the scenario is played as it stands, which has to meet every\n" +
			"expectation, and in each of its variants, which have to miss exactly what they name.\n\n" +
			"Of a fleet every device is played, and the result adds them up; with --device one\n" +
			"alone, as if it were the only one.",
		Args: between(0, 1, "SCENARIO"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.run(cmd, args, f) },
	}
	f.loadFlags.add(cmd)
	f.resultFlags.add(cmd)
	cmd.Flags().BoolVar(&f.variants, "variants", false, "play the scenario and all its variants")
	cmd.Flags().StringVar(&f.bundle, "bundle", "", "write what a recorder would have seen of the card to `FILE` (docs/record.md)")
	cmd.Flags().DurationVar(&f.interval, "bundle-interval", 10*time.Second, "`TIME` from one of its readings to the next")
	cmd.Flags().IntVar(&f.device, "device", 0, "play device `N` of a fleet alone, counted from 1")
	return cmd
}

func (a *app) run(cmd *cobra.Command, args []string, f *runFlags) error {
	switch {
	case f.variants && f.variant != "":
		return usagef("--variants plays every variant; --variant names one")
	case f.variants && f.trace != "":
		return usagef("--trace is for one run; --variants plays several")
	case f.variants:
		if err := f.alone("--variants plays several"); err != nil {
			return err
		}
	}
	if f.bundle != "" && f.variants {
		return usagef("--bundle is for one run; --variants plays several")
	}
	if f.bundle == "" && cmd.Flags().Changed("bundle-interval") {
		return usagef("--bundle-interval is for --bundle FILE")
	}
	if f.interval < time.Millisecond {
		return usagef("--bundle-interval %s: expected at least 1ms", f.interval)
	}
	if err := distinct(append(f.named(args), namedFile{"bundle", f.bundle})...); err != nil {
		return err
	}
	s, err := f.loadSite(cmd, args)
	if err != nil {
		return err
	}
	if s.Fleet() > 0 {
		return a.runFleet(cmd, s, f)
	}
	defer f.files.discard()
	if err := f.open(); err != nil {
		return err
	}
	bundle, err := f.files.open(f.bundle, 0o666)
	if err != nil {
		return err
	}
	opts := sim.RunOptions{Trace: f.traceTo, Report: f.wanted(), Bundle: bundle, Interval: f.interval, Done: cmd.Context().Done()}
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

// loadSite is the scenario, or the device of it that was asked for.
func (f *runFlags) loadSite(cmd *cobra.Command, args []string) (*sim.Scenario, error) {
	s, err := f.load(cmd, args)
	if err != nil || !cmd.Flags().Changed("device") {
		return s, err
	}
	if f.variants {
		return nil, usagef("--variants plays whole scenarios; --device plays one device of one")
	}
	return s.Device(f.device)
}

func (a *app) runFleet(cmd *cobra.Command, s *sim.Scenario, f *runFlags) error {
	if f.bundle != "" {
		return usagef("--bundle is for one site; of a fleet of %d choose one with --device", s.Fleet())
	}
	if f.trace != "" {
		return usagef("--trace is for one site; of a fleet of %d choose one with --device", s.Fleet())
	}
	if err := f.alone("of a fleet choose one with --device"); err != nil {
		return err
	}
	defer f.files.discard()
	if err := f.open(); err != nil {
		return err
	}
	opts := sim.RunOptions{Done: cmd.Context().Done()}
	if f.variants {
		return a.runVariants(s, opts, f)
	}
	result, err := sim.RunFleet(s, opts)
	if err != nil {
		return err
	}
	if err := f.publish(a, result); err != nil {
		return err
	}
	return verdict(result.Met(), result.Interrupted())
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
