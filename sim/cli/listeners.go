package cli

import (
	"cmp"
	"fmt"
	"text/tabwriter"

	"ridethrough/sim"
	"ridethrough/sim/internal/core/report"
)

type jsonListeners struct {
	Version   int            `json:"ridethrough_listeners"`
	Listeners []jsonListener `json:"listeners"`
}

type jsonListener struct {
	Surface   string `json:"surface"`
	Transport string `json:"transport"`
	Address   string `json:"address,omitempty"`
	Flag      string `json:"flag,omitempty"`
	When      string `json:"when,omitempty"`
	Serves    string `json:"serves"`
}

// listeners lists what serve opens for a scenario, or for one with a single UPS.
func (a *app) listeners(args []string, asJSON bool) error {
	list := sim.Listeners()
	if len(args) > 0 {
		s, err := sim.Load(args[0])
		if err != nil {
			return err
		}
		list = s.Listeners()
	}
	if asJSON {
		out := make([]jsonListener, len(list))
		for i, l := range list {
			out[i] = jsonListener(l)
		}
		return report.WriteJSON(a.out, jsonListeners{1, out})
	}
	table := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', 0)
	fmt.Fprint(table, "SURFACE\tTRANSPORT\tADDRESS\tFLAG\tWHEN\tSERVES\n")
	for _, l := range list {
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\t%s\t%s\n", l.Surface, l.Transport, cmp.Or(l.Address, "a path"), cmp.Or(l.Flag, "-"), cmp.Or(l.When, "always"), l.Serves)
	}
	return table.Flush()
}
