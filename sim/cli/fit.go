package cli

import (
	"github.com/spf13/cobra"

	"ridethrough/sim"
)

type fitFlags struct {
	json  bool
	plot  string
	block sim.FitOptions
}

func (a *app) fitCommand() *cobra.Command {
	f := &fitFlags{}
	cmd := &cobra.Command{
		Use:   "fit TABLE.csv",
		Short: "Find the battery model of a block from its discharge table",
		Long: "Find the battery model of a lead-acid block from its discharge table: print its\n" +
			"figures, the error of every row, and the lines of a scenario that use it. A table\n" +
			"that contradicts itself is refused with the line. docs/physics/battery.md has the\n" +
			"model and the form of the table.",
		Args: between(1, 1, "TABLE.csv"),
		RunE: func(_ *cobra.Command, args []string) error { return a.fit(args[0], f) },
	}
	cmd.Flags().BoolVar(&f.json, "json", false, "write JSON (docs/json.md)")
	cmd.Flags().StringVar(&f.plot, "plot", "", "draw the table's points against the fitted curves into `FILE`, .svg or .png")
	cmd.Flags().StringVar(&f.block.Name, "block", "", "call the block `NAME` instead of the name of the file")
	cmd.Flags().IntVar(&f.block.Cells, "cells", 6, "a block has `N` cells")
	cmd.Flags().Float64Var(&f.block.CapacityAh, "capacity", 0, "the block has `AH` in 20 hours; without it the table says")
	return cmd
}

func (a *app) fit(path string, f *fitFlags) error {
	if f.block.Cells < 1 {
		return usagef("--cells %d: a block has at least one", f.block.Cells)
	}
	var files outputs
	defer files.discard()
	to, format, err := chartFile(&files, "plot", f.plot)
	if err != nil {
		return err
	}
	fitting, err := sim.Fit(path, f.block)
	if err != nil {
		return err
	}
	if to != nil {
		if err := fitting.Chart().Write(to, format); err != nil {
			return err
		}
	}
	if err := files.commit(); err != nil {
		return err
	}
	if f.json {
		return fitting.JSON(a.out)
	}
	return fitting.Text(a.out)
}
