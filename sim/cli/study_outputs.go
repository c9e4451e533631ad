package cli

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// studyOutputs are what a whole study is asked for, and where it goes.
type studyOutputs struct {
	require    float64
	confident  bool
	csv, plots string

	files outputs
	csvTo io.Writer
}

func (f *studyOutputs) add(cmd *cobra.Command) {
	cmd.Flags().Float64Var(&f.require, "require", 1, "`SHARE` of the runs that has to meet every expectation, 0 to 1")
	cmd.Flags().BoolVar(&f.confident, "confident", false, "ask it of the lower end of the 95 % interval")
	cmd.Flags().StringVar(&f.csv, "csv", "", "write a line for each run to `FILE`")
	cmd.Flags().StringVar(&f.plots, "plots", "", "write charts into the folder `DIR`: success.svg, margin.svg, sensitivity.svg")
}

func (f *studyOutputs) check() error {
	if !(f.require >= 0 && f.require <= 1) {
		return usagef("--require %g: expected a share from 0 to 1, such as 0.99", f.require)
	}
	if f.confident && f.require == 1 {
		return usagef("--confident with --require 1: no number of runs shows that; ask for less, such as --require 0.99")
	}
	return nil
}

func (f *studyOutputs) open() (err error) {
	f.csvTo, err = f.files.open(f.csv, 0o666)
	if err == nil && f.plots != "" {
		if err = os.MkdirAll(f.plots, 0o777); err != nil {
			err = writeError(f.plots, err)
		}
	}
	return err
}

// ask is what the study has to come to. A run is repeated by the name of the file
// alone: the folder differs between machines.
func (f *studyOutputs) ask(path string, r *sim.StudyResult) sim.StudyAsk {
	return sim.StudyAsk{Share: f.require, Sure: f.confident, Replay: func(variant string, run int) string {
		text := fmt.Sprintf("ridethrough study %s --seed %d", quotedWord(filepath.Base(path)), r.Seed())
		if variant != "" {
			text += " --variant " + quotedWord(variant)
		}
		return text + fmt.Sprintf(" --only %d --trace run-%d.trace", run, run)
	}}
}

// quotedWord is a word that a shell takes as it is.
func quotedWord(s string) string {
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("._-/", r)
	}
	if s != "" && strings.IndexFunc(s, func(r rune) bool { return !plain(r) }) < 0 {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}

func (f *studyOutputs) publish(a *app, r *sim.StudyResult, path string, asJSON, quiet bool) error {
	if f.csvTo != nil {
		if err := r.CSV(f.csvTo); err != nil {
			return err
		}
	}
	if f.plots != "" {
		names, charts := r.Charts()
		for i, c := range charts {
			to, err := f.files.open(filepath.Join(f.plots, names[i]+".svg"), 0o666)
			if err == nil {
				err = c.Write(to, "svg")
			}
			if err != nil {
				return err
			}
		}
	}
	if err := f.files.commit(); err != nil {
		return err
	}
	ask := f.ask(path, r)
	if asJSON {
		return r.JSON(a.out, ask)
	}
	return r.Text(a.out, ask, quiet)
}
