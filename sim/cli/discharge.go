package cli

import (
	"math"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// dischargeFlags are those of fit for a recorded discharge.
type dischargeFlags struct{ opts sim.DischargeOptions }

func (f *dischargeFlags) add(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.opts.Base, "base", "", "`BLOCK` of the library that the battery is made of (docs/scenario.md): fit a recorded discharge")
	flags.IntVar(&f.opts.Series, "series", 6, "with --base: `N` blocks in series in a string")
	flags.IntVar(&f.opts.Strings, "strings", 1, "with --base: `N` strings in parallel")
	flags.Float64Var(&f.opts.ChargePct, "charge", 100, "with --base: charge at the beginning, in `PERCENT`")
	flags.Float64Var(&f.opts.TempC, "temp", math.NaN(), "with --base: the battery's temperature in degrees `C`, where the record does not tell (default 25)")
	flags.Float64Var(&f.opts.Efficiency, "efficiency", 0.92, "with --base: of the inverter, `0.5 to 1`, where a bundle has the output power and no current of the battery")
	flags.Float64Var(&f.opts.LifeYears, "life", 10, "with --base: life on float at 25 C in `YEARS`, for the age")
	flags.Lookup("temp").DefValue = "" // it is said in words
}

func (f *dischargeFlags) check(cmd *cobra.Command) error {
	own, others := []string{"series", "strings", "charge", "temp", "efficiency", "life"}, []string{"block", "cells", "capacity", "ask"}
	if f.opts.Base == "" {
		for _, name := range own {
			if cmd.Flags().Changed(name) {
				return usagef("--%s is for a recorded discharge: it goes with --base", name)
			}
		}
		return nil
	}
	for _, name := range others {
		if cmd.Flags().Changed(name) {
			return usagef("--%s is for a discharge table: it does not go with --base", name)
		}
	}
	o := &f.opts
	for _, x := range []struct {
		flag      string
		value     float64
		low, high float64
	}{
		{"series", float64(o.Series), 1, 60}, {"strings", float64(o.Strings), 1, 20}, {"charge", o.ChargePct, 5, 100},
		{"temp", o.TempC, -20, 60}, {"efficiency", o.Efficiency, 0.5, 1}, {"life", o.LifeYears, 1, 30},
	} {
		if cmd.Flags().Changed(x.flag) && !(x.value >= x.low && x.value <= x.high) {
			return usagef("--%s %g: expected %g to %g", x.flag, x.value, x.low, x.high)
		}
	}
	return nil
}

func (a *app) fitDischarge(path string, f *fitFlags) error {
	f.discharge.opts.Log = func(line string) { a.say("%s", line) }
	return a.writeFit(f, func() (fitted, error) { return sim.FitDischarge(path, f.discharge.opts) })
}
