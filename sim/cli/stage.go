package cli

import (
	"fmt"
	"io"
	"math"
	"time"

	"github.com/spf13/cobra"

	"ridethrough/sim"
	"ridethrough/sim/internal/core/report"
)

type stageFlags struct {
	gap    time.Duration
	limit  float64
	ready  bool
	asJSON bool
}

func (a *app) stageCommand() *cobra.Command {
	f, o, unit := &loadFlags{}, &stageFlags{}, unitFlag("")
	cmd := &cobra.Command{
		Use:   "stage SCENARIO",
		Short: "Recommend delays by which outlet groups come on, and rehearse the peak",
		Long: "Recommend after which delay each outlet group comes on: the control path first, then\n" +
			"by what the hosts need, --gap apart. The site is then played through an output that\n" +
			"goes off and on, with these delays, with those of the scenario, and all at once. The\n" +
			"exit code is 1 if the peak is above --limit with the recommended delays.\n\n" +
			"OFF AFTER is the reverse, from the start of a shutdown countdown, which has to be at\n" +
			"least as long: last on is first off, when the hosts on it have stopped.\n\n" +
			"Inrush is that of the scenario: a real one has to be measured on site.",
		Args: between(1, 1, "SCENARIO"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := o.check(); err != nil {
				return err
			}
			s, err := f.load(cmd, args)
			if err != nil {
				return err
			}
			if s, err = s.Alone(string(unit)); err != nil {
				return err
			}
			return a.stage(s, o)
		},
	}
	cmd.Flags().DurationVar(&o.gap, "gap", 10*time.Second, "`TIME` between two groups, 0s to 1h")
	cmd.Flags().Float64Var(&o.limit, "limit", 100, "`PERCENT` of the rating that the load may reach, 1 to 1000")
	cmd.Flags().BoolVar(&o.ready, "ready", false, "let a group wait until the hosts that its own need have booted")
	cmd.Flags().BoolVar(&o.asJSON, "json", false, "write JSON (docs/json.md)")
	unit.add(cmd)
	f.add(cmd)
	return cmd
}

func (o *stageFlags) check() error {
	switch {
	case o.gap < 0 || o.gap > time.Hour || o.gap%time.Millisecond != 0:
		return usagef("--gap is %s: expected a time from 0s to 1h in whole milliseconds", o.gap)
	case !(o.limit >= 1 && o.limit <= 1000):
		return usagef("--limit is %g: expected 1 to 1000", o.limit)
	}
	return nil
}

func (a *app) stage(s *sim.Scenario, o *stageFlags) error {
	st, err := s.Stage(o.gap, o.ready)
	if err != nil {
		return err
	}
	write := stageTable
	if o.asJSON {
		write = stageJSON
	}
	if err := write(a.out, st, o.limit); err != nil {
		return err
	}
	if st.PeakPct > o.limit {
		return ended{exitMissed}
	}
	return nil
}

func stageTable(w io.Writer, st *sim.Staging, limit float64) error {
	err := writeTable(w, "GROUP\tON AFTER\tPEAK\tOFF AFTER", st.Groups, func(g *sim.StagedGroup) string {
		return fmt.Sprintf("%s\t%s\t%.1f %%\t%s", g.Name, g.OnDelay, g.PeakPct, g.OffDelay)
	})
	if err != nil {
		return err
	}
	word := "within"
	if st.PeakPct > limit {
		word = "above"
	}
	_, err = fmt.Fprintf(w, "\npeak %.1f %% of the rating, %s the limit of %g %%; as the scenario sets it %.1f %%, all at once %.1f %%\n",
		st.PeakPct, word, limit, st.AsSetPct, st.TogetherPct)
	return err
}

type jsonStaging struct {
	Version     int         `json:"ridethrough_stage"`
	Groups      []jsonStage `json:"groups"`
	PeakPct     float64     `json:"peak_pct"`
	LimitPct    float64     `json:"limit_pct"`
	Within      bool        `json:"within"`
	AsSetPct    float64     `json:"as_set_pct"`
	TogetherPct float64     `json:"together_pct"`
}

type jsonStage struct {
	Group     string  `json:"group"`
	OnDelayS  float64 `json:"on_delay_s"`
	PeakPct   float64 `json:"peak_pct"`
	OffDelayS float64 `json:"off_delay_s"`
}

func stageJSON(w io.Writer, st *sim.Staging, limit float64) error {
	j := jsonStaging{
		Version: 1, Groups: []jsonStage{}, PeakPct: tenths(st.PeakPct), LimitPct: limit, Within: st.PeakPct <= limit,
		AsSetPct: tenths(st.AsSetPct), TogetherPct: tenths(st.TogetherPct),
	}
	for _, g := range st.Groups {
		j.Groups = append(j.Groups, jsonStage{g.Name, g.OnDelay.Seconds(), tenths(g.PeakPct), g.OffDelay.Seconds()})
	}
	return report.WriteJSON(w, j)
}

func tenths(v float64) float64 { return math.Round(10*v) / 10 }
