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

// unitFlag chooses one unit of a site.
type unitFlag string

func (u *unitFlag) add(cmd *cobra.Command) {
	cmd.Flags().StringVar((*string)(u), "unit", "", "`NAME` of a [[unit]], looked at as if the other units were dead (default the first)")
}

// resultFlags choose what is told about a result, and where.
type resultFlags struct {
	json, quiet  bool
	junit, trace string
	reportFlags

	files   outputs
	junitTo io.Writer // nil: not wanted
	traceTo io.Writer
}

func (f *resultFlags) add(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&f.json, "json", false, "write the result as JSON (docs/json.md)")
	cmd.Flags().BoolVarP(&f.quiet, "quiet", "q", false, "write only what was not met, and the outcome in one line")
	cmd.Flags().StringVar(&f.junit, "junit", "", "write a JUnit report to `FILE`")
	cmd.Flags().StringVar(&f.trace, "trace", "", "write everything that happened to `FILE`, line by line")
	f.reportFlags.add(cmd)
}

// named is the files that the flags and args name.
func (f *resultFlags) named(args []string) []namedFile {
	files := []namedFile{{"junit", f.junit}, {"trace", f.trace}, {"report", f.report}, {"charts", f.charts}}
	for _, path := range args {
		files = append(files, namedFile{"", path})
	}
	return files
}

// open opens the files before anything is run.
func (f *resultFlags) open() (err error) {
	if f.json && f.quiet {
		return usagef("--json and --quiet exclude each other")
	}
	if f.junitTo, err = f.files.open(f.junit, 0o666); err != nil {
		return err
	}
	if f.traceTo, err = f.files.open(f.trace, 0o666); err != nil {
		return err
	}
	return f.reportFlags.open(&f.files)
}

// outcome is what a command can publish.
type outcome interface {
	Text(io.Writer) error
	Brief(io.Writer) error
	JSON(io.Writer) error
	JUnit(io.Writer) error
}

// publish writes the reports, lets the files appear, and tells of the outcome
// on standard output.
func (f *resultFlags) publish(a *app, o outcome) error {
	if f.junitTo != nil {
		if err := o.JUnit(f.junitTo); err != nil {
			return err
		}
	}
	if err := f.reportFlags.publish(o); err != nil {
		return err
	}
	if err := f.files.commit(); err != nil {
		return err
	}
	switch {
	case f.json:
		return o.JSON(a.out)
	case f.quiet:
		return o.Brief(a.out)
	}
	return o.Text(a.out)
}

// verdict is how a command ends.
func verdict(met, interrupted bool) error {
	switch {
	case interrupted:
		return ended{exitInterrupted}
	case !met:
		return ended{exitMissed}
	}
	return nil
}
