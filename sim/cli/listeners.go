package cli

import (
	"cmp"
	"fmt"

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
	return writeTable(a.out, "SURFACE\tTRANSPORT\tADDRESS\tFLAG\tWHEN\tSERVES", list, func(l *sim.Listener) string {
		return fmt.Sprintf("%s\t%s\t%s\t%s\t%s\t%s", l.Surface, l.Transport, cmp.Or(l.Address, "a path"), cmp.Or(l.Flag, "-"), cmp.Or(l.When, "always"), l.Serves)
	})
}
