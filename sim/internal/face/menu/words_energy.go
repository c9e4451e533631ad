package menu

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
)

func init() {
	register(
		word{name: "energy", brief: "what each outlet group uses: watts, and kilowatt-hours since the last reset", part: partReading,
			detail: "Watts now and on average over the last hour. The meters go on over restarts of the card, and energy-reset\nsets them to 0. What hangs past the unit is not metered.",
			read:   plain(energy), data: energyData},
		word{name: "energy-reset", brief: "set the energy meters to 0", part: partUpkeep,
			detail: "What they showed is noted in the journal.",
			act: &action{
				caution: func(v View, _ []string) string {
					if v.Dev.Energy == nil {
						return ""
					}
					return fmt.Sprintf("The meters show %.3f kWh. Who bills by them wants to read them first.\n", v.Dev.Energy.Total(v.Now).Wh/1000)
				},
				confirm: "reset",
				command: func(View, []string) snap.Command { return snap.Command{Op: snap.OpEnergyReset} },
				done:    func(View, []string) string { return "The meters stand at 0.\n" },
			}},
	)
}

// metered are the groups of the roster that have a meter.
func metered(v View) (list []int) {
	if v.Dev.Energy == nil || v.Dev.Outlets.Roster == nil {
		return nil
	}
	for i, g := range v.Dev.Outlets.Roster.Groups {
		if !g.Mains && i < len(v.Dev.Energy.Groups) {
			list = append(list, i)
		}
	}
	return list
}

func energy(v View) string {
	groups := metered(v)
	if len(groups) == 0 {
		return "There is no meter.\n"
	}
	rows := [][]string{{"group", "now", "last hour", "since reset"}}
	for _, i := range groups {
		rows = append(rows, used(printable(v.Dev.Outlets.Roster.Groups[i].Name), v.Dev.Energy.Group(i, v.Now)))
	}
	rows = append(rows, used("total", v.Dev.Energy.Total(v.Now)))
	return table(rows) + row("Last reset", lastReset(v))
}

func used(name string, u snap.Used) []string {
	return []string{name, fmt.Sprintf("%.0f W", u.W), fmt.Sprintf("%.0f W", u.HourW), fmt.Sprintf("%.3f kWh", u.Wh/1000)}
}

func lastReset(v View) string {
	if v.Dev.Energy.Since == 0 {
		return "never"
	}
	return day(v.Dev.Card.DateOf(v.Dev.Energy.Since))
}

type energyDocument struct {
	Groups []energyLine `json:"groups"`
	Total  energyLine   `json:"total"`
	Reset  string       `json:"reset,omitempty"` // absent: never
}

type energyLine struct {
	Group string  `json:"group,omitempty"`
	W     float64 `json:"w"`
	HourW float64 `json:"hour_w"`
	KWh   float64 `json:"kwh"`
}

func energyData(v View, _ []string) any {
	doc := energyDocument{Groups: []energyLine{}}
	for _, i := range metered(v) {
		doc.Groups = append(doc.Groups, line(v.Dev.Outlets.Roster.Groups[i].Name, v.Dev.Energy.Group(i, v.Now)))
	}
	if v.Dev.Energy != nil {
		doc.Total = line("", v.Dev.Energy.Total(v.Now))
		if v.Dev.Energy.Since != 0 {
			doc.Reset = exact(v.Dev.Card.DateOf(v.Dev.Energy.Since))
		}
	}
	return doc
}

// line is what a meter shows, in steps as the table has them.
func line(name string, u snap.Used) energyLine {
	return energyLine{name, scaled(int64(u.W+0.5), 0), scaled(int64(u.HourW+0.5), 0), scaled(int64(u.Wh+0.5), 3)}
}
