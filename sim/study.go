package sim

import (
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"

	"ridethrough/sim/internal/core/dossier"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/study"
)

// MaxStudyRuns is the most runs that a study has.
const MaxStudyRuns = study.MaxRuns

// StudyOptions are the options of [Study].
type StudyOptions struct {
	Runs    int // 1 to [MaxStudyRuns]
	Workers int // 0: as many as there are processors; the result does not depend on it
	// Compare are variants that are played beside the scenario, on the same draws; ""
	// is the scenario as it stands.
	Compare []string
	// Program is the version of the program, which files of runs carry.
	Program string
	// Part and Parts make it a shard: part Part, from 1, of Parts. 0 is all.
	Part, Parts int
	// File, if not nil, has the runs that were played already, and gets the others.
	File *StudyFile
	// Progress, if not nil, is called now and then with how many runs there are, of
	// how many.
	Progress func(played, all int)
	// Done ends the study early when it is closed.
	Done <-chan struct{}
}

// StudyResult is what many runs of one scenario came to.
type StudyResult struct {
	header *study.Header
	runs   []study.Run
	result *study.Result // of what was played; nil for a shard
}

// StudyAsk is what a study has to come to, and how a single run is repeated.
type StudyAsk = study.Asked

// Study plays s many times, with what its [vary] names drawn anew for every run, in
// virtual time. A missed expectation is not an error: see [StudyResult.Holds]. The
// error is an *InvalidError, also for draws that do not go together, or an *IOError.
func Study(s *Scenario, opts StudyOptions) (*StudyResult, error) {
	if err := s.playable(); err != nil {
		return nil, err
	}
	if opts.Runs < 1 || opts.Runs > MaxStudyRuns {
		what := fmt.Sprintf("a study of %d runs; expected 1 to %d", opts.Runs, MaxStudyRuns)
		return nil, invalidFile(s.name, what)
	}
	src := s.studySource(opts.Compare)
	shard := study.Shard{Part: max(1, opts.Part), Of: max(1, opts.Parts)}
	h, err := study.NewHeader(src, s.file(), opts.Program, opts.Runs, shard)
	if err != nil {
		return nil, s.studyError(err)
	}
	r := &StudyResult{header: h}
	if opts.File != nil {
		if r.runs, err = opts.File.begin(h); err != nil {
			return nil, err
		}
	}
	if err := r.play(src, &opts); err != nil {
		return nil, s.studyError(err)
	}
	if shard.Of == 1 {
		r.result = study.Sum(h, r.runs)
	}
	return r, nil
}

// play plays what is missing.
func (r *StudyResult) play(src *study.Source, opts *StudyOptions) error {
	workers := opts.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	h := r.header
	first, all := h.First()+len(r.runs), h.Last()-h.First()+1
	told := func() {
		if opts.Progress != nil {
			opts.Progress(len(r.runs), all)
		}
	}
	told()
	if first > h.Last() {
		return nil
	}
	_, err := study.Play(src, first, h.Last(), workers, opts.Done, func(runs []study.Run) error {
		r.runs = append(r.runs, runs...)
		if opts.File != nil {
			if err := opts.File.add(runs); err != nil {
				return err
			}
		}
		told()
		return nil
	})
	return err
}

func (s *Scenario) studySource(compare []string) *study.Source {
	return &study.Source{Name: s.name, Text: s.text, Seed: s.plan.Seed, Variants: append([]string{s.variant}, compare...)}
}

// studyError words what went wrong with a file or a run of it.
func (s *Scenario) studyError(err error) error {
	var problem *scenario.Problem
	var run *study.RunError
	if errors.As(err, &problem) || errors.As(err, &run) {
		return invalid(s.name, err)
	}
	return err
}

// StudyRun is the scenario of one run of a study of s alone, counted from 1: the same
// plan with the same draws. It is played like any other. Errors are those of [Study].
func (s *Scenario) StudyRun(n int) (*Scenario, error) {
	if err := s.playable(); err != nil {
		return nil, err
	}
	p, err := study.NewPlayer(s.studySource(nil))
	if err != nil {
		return nil, s.studyError(err)
	}
	made, draws, err := p.Plan(0, n)
	if err != nil {
		return nil, s.studyError(err)
	}
	one := *s
	one.plan = made
	one.ofStudy = &studyRun{name: fmt.Sprintf("run %d of the study with seed %d", n, s.plan.Seed)}
	for i, q := range p.Quantities(0) {
		if !q.Fixed {
			one.ofStudy.drawn = append(one.ofStudy.drawn, dossier.Fact{Name: q.Path, Value: q.TextOf(draws[i])})
		}
	}
	return &one, nil
}

// studyRun is which run of a study a scenario is, and what the run drew.
type studyRun struct {
	name  string
	drawn []dossier.Fact
}

// Drawn says in one line which run of a study it is, and what the run drew; "" for a
// scenario that is not of [Scenario.StudyRun].
func (s *Scenario) Drawn() string {
	if s.ofStudy == nil {
		return ""
	}
	var b strings.Builder
	b.WriteString(s.ofStudy.name)
	for i, d := range s.ofStudy.drawn {
		b.WriteString([]string{": ", ", "}[min(i, 1)] + d.Name + " = " + d.Value)
	}
	return report.OneLine(b.String())
}

// Varied says how many keys the scenario's [vary] names.
func (s *Scenario) Varied() (int, error) {
	m, err := scenario.NewMold(s.name, s.text, scenario.Options{Variant: s.variant})
	if err != nil {
		return 0, invalid(s.name, err)
	}
	return len(m.Quantities()), nil
}

// Whole says whether all runs were played.
func (r *StudyResult) Whole() bool { return len(r.runs) == r.header.Last()-r.header.First()+1 }

// Range is the numbers of the first and the last run that belong to it.
func (r *StudyResult) Range() (first, last int) { return r.header.First(), r.header.Last() }

// Met is in how many runs of the scenario itself every expectation was met, of how
// many.
func (r *StudyResult) Met() (met, of int) { return r.result.Versions[0].Met, r.result.Played }

// Holds says whether the study came to what was asked for.
func (r *StudyResult) Holds(a StudyAsk) bool { return r.result.Holds(a.Share, a.Sure) }

// Text writes the study for people, with brief only its outcome.
func (r *StudyResult) Text(w io.Writer, a StudyAsk, brief bool) error {
	return r.result.Text(w, a, brief)
}

// JSON writes the study as docs/json.md describes it.
func (r *StudyResult) JSON(w io.Writer, a StudyAsk) error { return r.result.JSON(w, a) }

// CSV writes a line for each run.
func (r *StudyResult) CSV(w io.Writer) error { return study.CSV(w, r.header, r.runs) }

// Scenario is the name of the scenario file, and Seed that of the study.
func (r *StudyResult) Scenario() string { return r.header.Scenario }

// Seed is the study's seed.
func (r *StudyResult) Seed() uint64 { return r.header.Seed }

// MergeStudy puts the files of all shards of a study together. The error is an
// *IOError or an *InvalidError.
func MergeStudy(paths []string) (*StudyResult, error) {
	var files []study.Named
	for _, path := range paths {
		f, err := readRuns(path)
		if err != nil {
			return nil, err
		}
		files = append(files, study.Named{Name: path, File: f})
	}
	h, runs, err := study.Merge(files)
	if err != nil {
		return nil, &InvalidError{File: paths[0], What: err.Error(), text: report.OneLine(err.Error())}
	}
	return &StudyResult{h, runs, study.Sum(h, runs)}, nil
}

// badRuns is what is wrong with a file of runs.
func badRuns(path string, err error) error {
	e := invalidFile(path, err.Error())
	var f *study.FileError
	if errors.As(err, &f) && f.Line > 0 {
		e.Line, e.text = f.Line, report.OneLine(fmt.Sprintf("%s:%d: %s", path, f.Line, f.What))
	}
	return e
}
