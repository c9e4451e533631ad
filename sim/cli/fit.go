package cli

import (
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

type fitFlags struct {
	json  bool
	plot  string
	ask   []string
	block sim.FitOptions

	discharge dischargeFlags
}

func (a *app) fitCommand() *cobra.Command {
	f := &fitFlags{}
	cmd := &cobra.Command{
		Use:   "fit TABLE.csv | fit DISCHARGE --base BLOCK",
		Short: "Find the battery model of a block from its discharge table, or the health of a battery from a recorded discharge",
		Long: "Find the battery model of a lead-acid block from its discharge table: print its\n" +
			"figures, the error of every row, and the lines of a scenario that use it. A table\n" +
			"that contradicts itself is refused with the line. docs/physics/battery.md has the\n" +
			"model and the form of the table.\n\n" +
			"With --base, find what a lead-acid battery of such blocks has kept of capacity and\n" +
			"resistance, from a discharge: a bundle of record, of which the longest time on battery\n" +
			"is taken, or CSV of seconds,volts,amps (or watts) of the whole battery. It says how sure\n" +
			"that is, and what one discharge cannot tell apart.",
		Args: between(1, 1, "TABLE.csv or DISCHARGE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.discharge.check(cmd); err != nil {
				return err
			}
			if f.discharge.opts.Base != "" {
				return a.fitDischarge(args[0], f)
			}
			return a.fit(args[0], f)
		},
	}
	cmd.Flags().BoolVar(&f.json, "json", false, "write JSON (docs/json.md)")
	cmd.Flags().StringVar(&f.plot, "plot", "", "draw the table's points against the fitted curves into `FILE`, .svg or .png")
	cmd.Flags().StringVar(&f.block.Name, "block", "", "call the block `NAME` instead of the name of the file")
	cmd.Flags().IntVar(&f.block.Cells, "cells", 6, "a block has `N` cells")
	cmd.Flags().Float64Var(&f.block.CapacityAh, "capacity", 0, "the block has `AH` in 20 hours; without it the table says")
	cmd.Flags().StringArrayVar(&f.ask, "ask", nil, "say how long `MODE,VOLTS,LOAD` is carried, such as CP,1.70,12.5 (W a cell) or CC,1.70,6 (A)")
	f.discharge.add(cmd)
	return cmd
}

// asked reads MODE,VOLTS,LOAD.
func asked(text string) (sim.Asked, error) {
	mode, rest, _ := strings.Cut(text, ",")
	volts, load, _ := strings.Cut(rest, ",")
	a := sim.Asked{Mode: mode}
	var err error
	if mode != "CC" && mode != "CP" {
		return a, usagef("--ask %s: expected CC or CP first, such as CP,1.70,12.5", text)
	}
	if a.EndV, err = strconv.ParseFloat(volts, 64); err != nil || !(a.EndV >= 1 && a.EndV <= 2.5) {
		return a, usagef("--ask %s: expected an end voltage of 1 to 2.5 V a cell, such as CP,1.70,12.5", text)
	}
	if a.Load, err = strconv.ParseFloat(load, 64); err != nil || !(a.Load > 0 && a.Load <= 1e6) {
		return a, usagef("--ask %s: expected a load above 0, in A or W a cell, such as CP,1.70,12.5", text)
	}
	return a, nil
}

func (a *app) fit(path string, f *fitFlags) error {
	if f.block.Cells < 1 {
		return usagef("--cells %d: a block has at least one", f.block.Cells)
	}
	for _, text := range f.ask {
		a, err := asked(text)
		if err != nil {
			return err
		}
		f.block.Ask = append(f.block.Ask, a)
	}
	return a.writeFit(f, func() (fitted, error) { return sim.Fit(path, f.block) })
}

// fitted is what a fit has come to.
type fitted interface {
	Chart() *sim.Chart
	JSON(io.Writer) error
	Text(io.Writer) error
}

// writeFit writes what fit comes to, and draws it if that is wanted: a file that cannot
// be written is found before the work.
func (a *app) writeFit(f *fitFlags, fit func() (fitted, error)) error {
	var files outputs
	defer files.discard()
	to, format, err := chartFile(&files, "plot", f.plot)
	if err != nil {
		return err
	}
	x, err := fit()
	if err != nil {
		return err
	}
	if to != nil {
		if err := x.Chart().Write(to, format); err != nil {
			return err
		}
	}
	if err := files.commit(); err != nil {
		return err
	}
	if f.json {
		return x.JSON(a.out)
	}
	return x.Text(a.out)
}
