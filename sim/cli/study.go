package cli

import (
	"fmt"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

type studyFlags struct {
	loadFlags
	resultFlags
	studyOutputs
	runs, workers int
	compare       []string
	resume, shard string
	only          int
}

func (a *app) studyCommand() *cobra.Command {
	f := &studyFlags{}
	cmd := &cobra.Command{
		Use:   "study SCENARIO",
		Short: "Play a scenario many times with varied values, and tell how often it succeeds",
		Long: "Play a scenario many times, each run with other values of what its [vary] names, and\n" +
			"tell how often every expectation is met, which hosts fail how often and why, what was\n" +
			"left when the last host had stopped, and what that depends on. docs/study.md has it all.\n\n" +
			"A run depends on the file, the seed and its number alone: not on the workers, the\n" +
			"shards or what else varies. The exit code is 0 if at least --require of the runs met\n" +
			"everything.\n\n" +
			"--resume FILE keeps every run in FILE, and goes on after those that are there already.\n" +
			"--shard I/N plays part I of N on this machine, to be put together by study merge; auto\n" +
			"takes the part from the array of Slurm or the indexed job of Kubernetes.",
		Args: between(1, 1, "SCENARIO"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.study(cmd, args, f) },
	}
	f.loadFlags.add(cmd)
	f.resultFlags.add(cmd)
	f.studyOutputs.add(cmd)
	cmd.Flags().IntVarP(&f.runs, "runs", "n", 1000, fmt.Sprintf("play `N` runs, 1 to %d", sim.MaxStudyRuns))
	cmd.Flags().IntVar(&f.workers, "workers", 0, "play `N` runs at a time; 0: one for each processor")
	cmd.Flags().StringArrayVar(&f.compare, "compare", nil, "play variant `NAME` too, on the same draws, and compare")
	cmd.Flags().StringVar(&f.resume, "resume", "", "keep the runs in `FILE`, and go on after those that it has")
	cmd.Flags().StringVar(&f.shard, "shard", "", "play one `PART` only: I/N, or auto")
	cmd.Flags().IntVar(&f.only, "only", 0, "play run `I` alone and show it as run does; --trace, --junit, --report and --charts are for it")
	cmd.AddCommand(a.mergeCommand())
	return cmd
}

func (f *studyFlags) check(cmd *cobra.Command) error {
	alone := cmd.Flags().Changed("only")
	switch {
	case f.runs < 1 || f.runs > sim.MaxStudyRuns:
		return usagef("--runs %d: expected 1 to %d", f.runs, sim.MaxStudyRuns)
	case f.workers < 0 || f.workers > 1024:
		return usagef("--workers %d: expected 0 to 1024", f.workers)
	case alone && f.only < 1:
		return usagef("--only %d: runs are counted from 1", f.only)
	case alone && (f.csv != "" || f.plots != "" || f.resume != "" || f.shard != "" || len(f.compare) > 0):
		return usagef("--only plays one run: --csv, --plots, --resume, --shard and --compare are for many")
	case !alone && (f.trace != "" || f.junit != "" || f.wanted()):
		return usagef("--trace, --junit, --report and --charts are for one run: choose it with --only")
	case f.shard != "" && (f.csv != "" || f.plots != "" || f.json):
		return usagef("--shard plays a part: --json, --csv and --plots are for study merge")
	}
	for i, name := range f.compare {
		if name == f.variant || slices.Contains(f.compare[:i], name) {
			return usagef("--compare %s: it is played already", quotedWord(name))
		}
	}
	return f.studyOutputs.check()
}

func (a *app) study(cmd *cobra.Command, args []string, f *studyFlags) error {
	if err := f.check(cmd); err != nil {
		return err
	}
	files := append(f.named(args), namedFile{"csv", f.csv}, namedFile{"resume", f.resume})
	if err := distinct(files...); err != nil {
		return err
	}
	s, err := f.load(cmd, args)
	if err != nil {
		return err
	}
	if cmd.Flags().Changed("only") {
		return a.studyRun(cmd, s, f)
	}
	opts := sim.StudyOptions{Runs: f.runs, Workers: f.workers, Compare: f.compare, Program: sim.Version(), Done: cmd.Context().Done()}
	if err := a.divide(args[0], f, &opts); err != nil {
		return err
	}
	if err := f.studyOutputs.open(); err != nil {
		return err
	}
	defer f.studyOutputs.files.discard()
	r, err := a.playStudy(s, f, opts)
	if err != nil {
		return err
	}
	if opts.Parts > 0 {
		return a.endShard(r, f, &opts)
	}
	if err := f.studyOutputs.publish(a, r, args[0], f.json, f.quiet); err != nil {
		return err
	}
	if !r.Whole() {
		a.sayInterrupted(r, f)
	}
	return verdict(r.Holds(f.ask(args[0], r)), !r.Whole())
}

// sayInterrupted says how a study that was interrupted can go on.
func (a *app) sayInterrupted(r *sim.StudyResult, f *studyFlags) {
	_, played := r.Met()
	if f.resume == "" {
		a.say("interrupted after %d of %d runs; with --resume FILE it would keep them and go on", played, f.runs)
		return
	}
	a.say("interrupted after %d of %d runs: %s goes on with the same command", played, f.runs, f.resume)
}

// Runs leave much garbage and little else: to collect it rarely saves an eighth of the
// time. Many runs are themselves what would be doubled and more.
const (
	spareHeap = 800
	manyRuns  = 100_000
)

// playStudy plays with the file of runs open and a bar on the terminal.
func (a *app) playStudy(s *sim.Scenario, f *studyFlags, opts sim.StudyOptions) (r *sim.StudyResult, err error) {
	if n, err := s.Varied(); err == nil && n == 0 {
		a.say("the scenario has no [vary]: every run differs by chance alone")
	}
	if len(s.Expectations()) == 0 {
		a.say("the scenario expects nothing: every run meets that, whatever becomes of its hosts; add an [[expect]]")
	}
	if f.resume != "" {
		file, err := sim.OpenStudyFile(f.resume)
		if err != nil {
			return nil, err
		}
		defer func() {
			if shut := file.Close(); err == nil {
				err = shut
			}
			file.RemoveIfEmpty()
		}()
		opts.File = file
	}
	if opts.Runs <= manyRuns {
		defer debug.SetGCPercent(debug.SetGCPercent(spareHeap))
	}
	bar := a.newBar()
	opts.Progress = bar.show
	defer bar.end()
	return sim.Study(s, opts)
}

// studyRun plays one run as run does.
func (a *app) studyRun(cmd *cobra.Command, s *sim.Scenario, f *studyFlags) error {
	one, err := s.StudyRun(f.only)
	if err != nil {
		return err
	}
	defer f.resultFlags.files.discard()
	if err := f.resultFlags.open(); err != nil {
		return err
	}
	if !f.json && !f.quiet {
		a.say("%s", one.Drawn())
	}
	result, err := sim.Run(one, sim.RunOptions{Trace: f.traceTo, Report: f.wanted(), Done: cmd.Context().Done()})
	if err != nil {
		return err
	}
	if err := f.resultFlags.publish(a, result); err != nil {
		return err
	}
	return verdict(result.Met(), result.Interrupted)
}

// divide takes the shard, and a name for its file if none is given.
func (a *app) divide(path string, f *studyFlags, opts *sim.StudyOptions) error {
	if f.shard == "" {
		return nil
	}
	var err error
	if opts.Part, opts.Parts, err = a.shard(f.shard); err != nil {
		return err
	}
	if f.resume == "" {
		name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
		f.resume = fmt.Sprintf("%s.%d-of-%d.runs", name, opts.Part, opts.Parts)
	}
	return nil
}

func (a *app) endShard(r *sim.StudyResult, f *studyFlags, opts *sim.StudyOptions) error {
	first, last := r.Range()
	if !r.Whole() {
		a.say("shard %d of %d was interrupted: %s goes on with the same command", opts.Part, opts.Parts, f.resume)
		return ended{exitInterrupted}
	}
	what := fmt.Sprintf("runs %d to %d", first, last)
	if last < first {
		what = "no run"
	}
	a.say("shard %d of %d: %s in %s", opts.Part, opts.Parts, what, f.resume)
	return nil
}
