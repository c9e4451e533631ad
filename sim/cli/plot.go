package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// chartFile prepares the file of a chart; to is nil if path is empty.
func chartFile(files *outputs, flag, path string) (to io.Writer, format string, err error) {
	if path == "" {
		return nil, "", nil
	}
	format, ok := sim.ChartFormat(path)
	if !ok {
		return nil, "", usagef("--%s %s: a chart ends in .svg or .png", flag, filepath.Base(path))
	}
	to, err = files.open(path, 0o666)
	return to, format, err
}

func (a *app) plotCommand() *cobra.Command {
	output := ""
	variant := &loadFlags{}
	cmd := &cobra.Command{
		Use:   "plot discharge BLOCK | plot iti [SCENARIO]",
		Short: "Draw a chart: a block's discharge, or a scenario's supply on the ITI curve",
		Long: "Draw a chart as SVG or PNG.\n\n" +
			"plot discharge BLOCK draws the voltage of a block of the library against time, at a\n" +
			"family of constant currents; docs/scenario.md lists the blocks.\n\n" +
			"plot iti SCENARIO plays the scenario in virtual time and puts the voltage variations\n" +
			"of its supply on the ITI curve, named by IEEE 1159. With --output it lists them on\n" +
			"standard output too.\n\n" +
			"Without --output the chart goes to standard output as SVG.",
		Args: between(1, 2, "discharge BLOCK or iti SCENARIO"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.plot(cmd, args, variant, output) },
	}
	cmd.Flags().StringVarP(&output, "output", "o", "", "write the chart to `FILE`, .svg or .png")
	variant.add(cmd)
	return cmd
}

func (a *app) plot(cmd *cobra.Command, args []string, load *loadFlags, output string) error {
	var files outputs
	defer files.discard()
	to, format, err := chartFile(&files, "output", output)
	if err != nil {
		return err
	}
	var list []sim.Variation
	var chart *sim.Chart
	switch args[0] {
	case "discharge":
		if cmd.Flags().Changed("variant") || cmd.Flags().Changed("seed") {
			return usagef("--variant and --seed are for plot iti: a block has neither")
		}
		chart, err = dischargeChart(args[1:])
	case "iti":
		list, chart, err = itiChart(cmd, args[1:], load)
	default:
		err = usagef("there is no chart %q; expected discharge or iti", args[0])
	}
	if err != nil {
		return err
	}
	if to == nil {
		return chart.Write(a.out, "svg")
	}
	if err := chart.Write(to, format); err != nil {
		return err
	}
	if err := files.commit(); err != nil {
		return err
	}
	return variationTable(a.out, list)
}

func dischargeChart(args []string) (*sim.Chart, error) {
	if len(args) == 0 {
		return nil, usagef("plot discharge needs a BLOCK")
	}
	return sim.DischargeChart(args[0])
}

func itiChart(cmd *cobra.Command, args []string, load *loadFlags) ([]sim.Variation, *sim.Chart, error) {
	s, err := load.load(cmd, args)
	if err != nil {
		return nil, nil, err
	}
	return sim.Variations(s, sim.RunOptions{Done: cmd.Context().Done()})
}

// variationTable numbers the variations as the chart does.
func variationTable(w io.Writer, list []sim.Variation) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for i, v := range list {
		lasts := (time.Duration(v.EndMS-v.StartMS) * time.Millisecond).String()
		if v.Open {
			lasts += " and on"
		}
		bears := "works on"
		if !v.Rides {
			bears = "may fail"
		}
		fmt.Fprintf(t, "%d\t%s\t%s\t%.1f %%\t%s\t%s\n", i+1, time.Duration(v.StartMS)*time.Millisecond, v.Class, v.VoltagePct, lasts, bears)
	}
	return t.Flush()
}
