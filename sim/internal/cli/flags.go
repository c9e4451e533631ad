package cli

import (
	"io"
	"math"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// loadFlags choose how the scenario is read.
type loadFlags struct {
	variant string
	seed    uint64
	seeded  bool
}

func (f *loadFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.variant, "variant", "", "apply the variant of that `NAME`")
	cmd.Flags().Uint64Var(&f.seed, "seed", 0, "`N` instead of the seed in the file")
}

// load reads the scenario that args names, or the built-in one.
func (f *loadFlags) load(cmd *cobra.Command, args []string) (*sim.Scenario, error) {
	opts := []sim.LoadOption{sim.WithVariant(f.variant)}
	if cmd.Flags().Changed("seed") {
		if f.seed > math.MaxInt64 {
			return nil, usagef("--seed %d: the largest seed is %d", f.seed, int64(math.MaxInt64))
		}
		opts = append(opts, sim.WithSeed(f.seed))
	}
	if len(args) == 0 {
		return sim.Default(opts...)
	}
	return sim.Load(args[0], opts...)
}

// resultFlags choose what is told about a result, and where.
type resultFlags struct {
	json, quiet  bool
	junit, trace string

	files   outputs
	junitTo io.Writer // nil: not wanted
	traceTo io.Writer
}

func (f *resultFlags) add(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&f.json, "json", false, "write the result as JSON (docs/json.md)")
	cmd.Flags().BoolVarP(&f.quiet, "quiet", "q", false, "write only what was not met, and the outcome in one line")
	cmd.Flags().StringVar(&f.junit, "junit", "", "write a JUnit report to `FILE`")
	cmd.Flags().StringVar(&f.trace, "trace", "", "write everything that happened to `FILE`, line by line")
	cmd.MarkFlagsMutuallyExclusive("json", "quiet")
}

// open opens the files before anything is run.
func (f *resultFlags) open() (err error) {
	if f.junitTo, err = f.files.open("junit", f.junit, 0o666); err != nil {
		return err
	}
	f.traceTo, err = f.files.open("trace", f.trace, 0o666)
	return err
}

// publish writes the reports, lets the files appear, and tells of the result on
// standard output.
func (f *resultFlags) publish(a *app, r *sim.Result) error {
	if f.junitTo != nil {
		if err := sim.JUnit(f.junitTo, r); err != nil {
			return err
		}
	}
	if err := f.files.commit(); err != nil {
		return err
	}
	switch {
	case f.json:
		return r.JSON(a.out)
	case f.quiet:
		return r.Brief(a.out)
	}
	return r.Text(a.out)
}

// verdict is how a command ends that came to r.
func verdict(r *sim.Result) error {
	switch {
	case r.Interrupted:
		return ended{exitInterrupted}
	case !r.Met():
		return ended{exitMissed}
	}
	return nil
}
