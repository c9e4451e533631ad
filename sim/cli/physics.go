package cli

import (
	"fmt"
	"io"
	"strconv"

	"github.com/spf13/cobra"

	"ridethrough/sim"
	"ridethrough/sim/internal/core/report"
)

func (a *app) physicsCommand() *cobra.Command {
	f, asJSON, unit := &loadFlags{}, false, unitFlag("")
	cmd := &cobra.Command{
		Use:   "physics [SCENARIO]",
		Short: "List every physical figure of a scenario and where it comes from",
		Long: "List every physical figure that is in force in a scenario: its value, its unit and\n" +
			"where it comes from. Without SCENARIO those of the built-in one.\n\n" +
			"FROM is scenario (the file sets it, at the line named), published (a source that\n" +
			"was seen), memory (published, but recalled and not seen), practice (common practice\n" +
			"of the trade), fitted (to published discharge tables), derived (worked out of other\n" +
			"figures) or ours (invented, of a plausible size). docs/physics has the models.",
		Args: between(0, 1, "SCENARIO"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := f.load(cmd, args)
			if err != nil {
				return err
			}
			if s, err = s.Alone(string(unit)); err != nil {
				return err
			}
			list, err := s.Physics()
			if err != nil {
				return err
			}
			if asJSON {
				return physicsJSON(a.out, list)
			}
			return physicsTable(a.out, list)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "write JSON (docs/json.md)")
	unit.add(cmd)
	f.add(cmd)
	return cmd
}

func physicsTable(w io.Writer, list []sim.Parameter) error {
	return writeTable(w, "GROUP\tFIGURE\tVALUE\tUNIT\tFROM\tSOURCE", list, func(p *sim.Parameter) string {
		return fmt.Sprintf("%s\t%s\t%s\t%s\t%s\t%s", p.Group, p.Name, strconv.FormatFloat(p.Value, 'g', 5, 64), p.Unit, p.From, p.Source)
	})
}

type jsonPhysics struct {
	Version int             `json:"ridethrough_physics"`
	Figures []jsonParameter `json:"figures"`
}

type jsonParameter struct {
	Group  string  `json:"group"`
	Name   string  `json:"name"`
	Value  float64 `json:"value"`
	Unit   string  `json:"unit,omitempty"`
	From   string  `json:"from"`
	Source string  `json:"source,omitempty"`
}

func physicsJSON(w io.Writer, list []sim.Parameter) error {
	out := make([]jsonParameter, len(list))
	for i, p := range list {
		out[i] = jsonParameter(p)
	}
	return report.WriteJSON(w, jsonPhysics{1, out})
}
