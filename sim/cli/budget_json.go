package cli

import (
	"io"
	"time"

	"ridethrough/sim"
	"ridethrough/sim/internal/core/report"
)

type jsonBudget struct {
	Version     int                   `json:"ridethrough_budget"`
	Holds       bool                  `json:"holds"`
	StopMargin  float64               `json:"stop_margin_pct"`
	StopSpread  float64               `json:"stop_spread_pct"`
	Vary        bool                  `json:"vary"`
	MarginS     float64               `json:"margin_s"`
	Probability *float64              `json:"probability,omitempty"`
	CleanShare  float64               `json:"clean_share"`
	Troubles    []string              `json:"troubles"`
	Worst       string                `json:"worst_condition"`
	Conditions  []jsonBudgetCondition `json:"conditions"`
	DetectS     float64               `json:"detect_s"`
	Hosts       []jsonBudgetHost      `json:"hosts"`
	Groups      []jsonBudgetGroup     `json:"groups"`
	Settings    []jsonBudgetSetting   `json:"settings"`
	Slips       []jsonBudgetSlip      `json:"breaks_first"`
}

type jsonBudgetCondition struct {
	Condition string   `json:"condition"`
	EndOfLife bool     `json:"end_of_life"`
	TempC     float64  `json:"temp_c"`
	RuntimeS  *float64 `json:"runtime_s"`
	OrderS    *float64 `json:"first_order_s"`
	LastStopS *float64 `json:"last_stop_s"`
	LatestS   *float64 `json:"latest_order_s"`
	SpareS    *float64 `json:"spare_s"`
	Clean     bool     `json:"clean"`
}

type jsonBudgetHost struct {
	Name     string   `json:"name"`
	WaitsS   *float64 `json:"waits_s"`
	StopS    *float64 `json:"stop_s"`
	StoppedS *float64 `json:"stopped_s"`
	PowerS   *float64 `json:"power_until_s"`
	Clean    bool     `json:"clean"`
}

type jsonBudgetGroup struct {
	Group     string   `json:"group"`
	LastStopS *float64 `json:"last_stop_s"`
	OpensS    *float64 `json:"opens_s"`
	Clean     bool     `json:"clean"`
}

type jsonBudgetSetting struct {
	Setting string `json:"setting"`
	What    string `json:"what"`
	Unit    string `json:"unit"`
	Bound   string `json:"bound"`
	AsSet   *int64 `json:"as_set"`
	Needed  *int64 `json:"needed"`
	Write   *int64 `json:"written_as,omitempty"`
	Used    bool   `json:"used"`
	OK      bool   `json:"ok"`
}

type jsonBudgetSlip struct {
	Number  string   `json:"number"`
	Unit    string   `json:"unit"`
	Planned float64  `json:"planned"`
	HoldsTo float64  `json:"holds_to"`
	RoomPct *float64 `json:"room_pct"`
	Breaks  string   `json:"then_not_clean"`
}

func budgetJSON(w io.Writer, b *sim.Budget, o *sim.BudgetOptions) error {
	j := jsonBudget{
		Version: 1, Holds: b.Holds, StopMargin: o.StopMarginPct, StopSpread: o.StopSpreadPct, Vary: o.Vary, MarginS: o.Margin.Seconds(), CleanShare: b.Clean,
		Troubles: append([]string{}, b.Troubles...), Worst: b.Conditions[b.Worst].Name, DetectS: b.Seen.Seconds(),
		Conditions: []jsonBudgetCondition{}, Hosts: []jsonBudgetHost{}, Groups: []jsonBudgetGroup{}, Settings: []jsonBudgetSetting{}, Slips: []jsonBudgetSlip{},
	}
	if o.StopSpreadPct > 0 || o.Vary {
		j.Probability = &o.Probability
	}
	for i := range b.Conditions {
		c := &b.Conditions[i]
		j.Conditions = append(j.Conditions, jsonBudgetCondition{
			c.Name, c.EndOfLife, c.TempC, inSeconds(c.Runtime), inSeconds(c.Begins), inSeconds(c.LastStop), inSeconds(c.Latest), inSeconds(c.Spare), c.Clean,
		})
	}
	for _, h := range b.Hosts {
		j.Hosts = append(j.Hosts, jsonBudgetHost{h.Name, inSeconds(h.Waits), inSeconds(h.Stop), inSeconds(h.Done), inSeconds(h.Limit), h.Clean})
	}
	for _, g := range b.Groups {
		j.Groups = append(j.Groups, jsonBudgetGroup{g.Name, inSeconds(g.LastStop), inSeconds(g.Opens), g.Clean})
	}
	for i := range b.Settings {
		s := &b.Settings[i]
		bound := "least"
		if s.Most {
			bound = "most"
		}
		j.Settings = append(j.Settings, jsonBudgetSetting{s.Name, s.What, s.Unit, bound, s.AsSet, s.Needed, s.Write, s.Used, s.OK})
	}
	for i := range b.Slips {
		s := &b.Slips[i]
		room := s.RoomPct
		if room != nil {
			tenth := tenths(*room)
			room = &tenth
		}
		j.Slips = append(j.Slips, jsonBudgetSlip{s.Name, s.Unit, tenths(s.Plan), tenths(s.Limit), room, s.Breaks})
	}
	return report.WriteJSON(w, j)
}

// inSeconds is d; nil for one that does not come.
func inSeconds(d time.Duration) *float64 {
	if d == sim.NotEver {
		return nil
	}
	s := d.Seconds()
	return &s
}
