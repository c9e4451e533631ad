package cli

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"ridethrough/sim"
)

// trial is one version of a scenario that was played, and what was wrong with
// how it came out.
type trial struct {
	name   string // "" for the scenario as it stands
	result *sim.Result
	wrong  string
}

// runVariants plays the scenario and its variants.
func (a *app) runVariants(ctx context.Context, s *sim.Scenario, f *runFlags) error {
	trials, err := tryAll(ctx, s)
	if err != nil {
		return err
	}
	results := make([]*sim.Result, len(trials))
	for i, t := range trials {
		results[i] = t.result
	}
	if f.junitTo != nil {
		if err := trialsJUnit(f.junitTo, trials); err != nil {
			return err
		}
	}
	if err := f.files.commit(); err != nil {
		return err
	}
	if f.json {
		err = sim.JSONList(a.out, results...)
	} else {
		err = tellTrials(a.out, s, trials, f.quiet)
	}
	if err != nil {
		return err
	}
	return trialsVerdict(trials)
}

func tryAll(ctx context.Context, s *sim.Scenario) ([]trial, error) {
	variants, err := s.Variants()
	if err != nil {
		return nil, err
	}
	var trials []trial
	for _, v := range slices.Insert(variants, 0, sim.Variant{}) {
		t, err := try(ctx, s, v)
		if err != nil {
			return nil, err
		}
		if trials = append(trials, t); t.result.Interrupted {
			break
		}
	}
	return trials, nil
}

func try(ctx context.Context, s *sim.Scenario, v sim.Variant) (trial, error) {
	changed, err := s.With(sim.WithVariant(v.Name), sim.WithSeed(s.Seed()))
	if err != nil {
		return trial{}, err
	}
	result, err := play(ctx, changed, resultFlags{})
	if err != nil {
		return trial{}, err
	}
	return trial{v.Name, result, compare(v.Misses, result.Failed())}, nil
}

// compare says how what was missed differs from what should have been, "" if it
// does not.
func compare(should, did []string) string {
	var parts []string
	if unmissed := without(should, did); len(unmissed) > 0 {
		parts = append(parts, "should miss but met "+quoted(unmissed))
	}
	if missed := without(did, should); len(missed) > 0 {
		parts = append(parts, "should meet but missed "+quoted(missed))
	}
	return strings.Join(parts, "; ")
}

// without is what is in a and not in b.
func without(a, b []string) []string {
	return slices.DeleteFunc(slices.Clone(a), func(s string) bool { return slices.Contains(b, s) })
}

func quoted(names []string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = fmt.Sprintf("%q", n)
	}
	return strings.Join(out, ", ")
}

func tellTrials(w io.Writer, s *sim.Scenario, trials []trial, quiet bool) error {
	var b strings.Builder
	if !quiet {
		fmt.Fprintf(&b, "%s\n", s.Title())
	}
	wrong := 0
	for _, t := range trials {
		switch {
		case t.wrong != "":
			wrong++
			fmt.Fprintf(&b, "wrong  %s: %s\n", t.label(), t.wrong)
		case !quiet:
			fmt.Fprintf(&b, "right  %s: %s\n", t.label(), t.outcome())
		}
	}
	fmt.Fprintf(&b, "%d of %d versions came out as they should\n", len(trials)-wrong, len(trials))
	_, err := io.WriteString(w, b.String())
	return err
}

func (t *trial) label() string {
	if t.name == "" {
		return "as it stands"
	}
	return t.name
}

func (t *trial) outcome() string {
	if failed := t.result.Failed(); len(failed) > 0 {
		return "missed " + quoted(failed)
	}
	return "met everything"
}

func trialsVerdict(trials []trial) error {
	for _, t := range trials {
		if t.result.Interrupted {
			return ended{exitInterrupted}
		}
	}
	for _, t := range trials {
		if t.wrong != "" {
			return ended{exitMissed}
		}
	}
	return nil
}
