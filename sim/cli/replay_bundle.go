package cli

import (
	"errors"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

func (a *app) replaySource(cmd *cobra.Command, path string, f *replayFlags) error {
	if f.scenario == "" {
		return usagef("--as source needs --scenario FILE: the site that runs through the incident")
	}
	limits, err := limitsOf(f.limits)
	if err != nil {
		return err
	}
	s, err := f.load.load(cmd, []string{f.scenario})
	if err != nil {
		return err
	}
	c, err := sim.ReplaySource(s, path, sim.SourceOptions{
		Limits: limits, Done: cmd.Context().Done(), Log: func(line string) { a.say("%s", line) },
	})
	if err != nil {
		return err
	}
	write := c.Text
	if f.json {
		write = c.JSON
	}
	if err := write(a.out); err != nil {
		return err
	}
	return verdict(c.Met(), c.Result.Interrupted)
}

// limitsOf reads the --limit flags.
func limitsOf(texts []string) (map[string]float64, error) {
	known := sim.DefaultLimits()
	limits := map[string]float64{}
	for _, text := range texts {
		name, number, _ := strings.Cut(text, "=")
		if _, ok := known[name]; !ok {
			var names []string
			for name := range known {
				names = append(names, name)
			}
			slices.Sort(names)
			return nil, usagef("--limit %q: expected QUANTITY=N with one of %s", text, strings.Join(names, ", "))
		}
		n, err := strconv.ParseFloat(number, 64)
		if err != nil || !(n >= 0 && n <= 1e6) {
			return nil, usagef("--limit %q: expected a number from 0 up, such as %s=%g", text, name, known[name])
		}
		limits[name] = n
	}
	return limits, nil
}

func (a *app) replayVerbatim(cmd *cobra.Command, path string, f *replayFlags) error {
	o := f.verbatim
	switch {
	case !(o.Speed >= 0.1 && o.Speed <= 3600):
		return usagef("--speed %g: expected 0.1 to 3600", o.Speed)
	case !isAddress(o.SNMP, anyPort):
		return usagef("--snmp %q: expected HOST:PORT", o.SNMP)
	case o.Receiver != "" && !isAddress(o.Receiver, realPort):
		return usagef("--notify %q: expected HOST:PORT with a port from 1 to 65535", o.Receiver)
	}
	var err error
	if o.Credentials, err = a.credentials(f.credentials); err != nil {
		return err
	}
	o.Ready = a.out
	o.Log = func(line string) { a.say("%s", line) }
	whole, err := sim.Verbatim(cmd.Context(), path, o)
	var invalid *sim.InvalidError
	if errors.As(err, &invalid) && invalid.File == "" {
		return usagef("%s", invalid)
	}
	if err != nil {
		return err
	}
	return verdict(true, !whole && !o.Loop)
}
