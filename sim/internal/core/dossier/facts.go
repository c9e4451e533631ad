package dossier

import (
	"fmt"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Fact is a property of the site with its value, for people.
type Fact struct{ Name, Value string }

// Table is rows under a head.
type Table struct {
	Title string
	Head  []string
	Rows  [][]string
	Note  string
}

// facts are the equipment: that of further units after that of the first.
func facts(p *plan.Plan) []Fact {
	list := factsOfUnit(p)
	for _, u := range p.Units {
		for _, f := range factsOfUnit(u) {
			list = append(list, Fact{"Unit " + u.UnitName + ": " + f.Name, f.Value})
		}
	}
	return list
}

func factsOfUnit(p *plan.Plan) []Fact {
	u, b := &p.UPS, &p.Battery
	list := []Fact{
		{"Supply", fmt.Sprintf("%s V, %s Hz%s", num(p.Source.Volts, 0), num(p.Source.Hz, 0), generator(p.Source.Generator))},
		{"UPS", fmt.Sprintf("%s %s, %s by IEC 62040-3, %s VA / %s W, %s in, %s out", u.Manufacturer, u.Model, u.Topology, num(u.RatingVA, 0), num(u.RatingW, 0), lines(u.LinesIn), lines(u.LinesOut))},
		{"Input window", fmt.Sprintf("%s to %s V, %s to %s Hz; taken back after %s", num(u.LowTransferV, 0), num(u.HighTransferV, 0), num(u.LowHz, 1), num(u.HighHz, 1), span(u.Qualify))},
		{"Low battery", fmt.Sprintf("below %d min; restart after an outage %s", u.LowBatteryMinutes, snap.Either(u.AutoRestart, "by itself", "by order"))},
		{"Battery", fmt.Sprintf("%s, %d cells in series, %d in parallel, %s Ah; capacity %s %% and resistance %s %% of new; charged to %s %% at the start",
			b.Block, b.Cells, max(1, b.Strings), num(b.CapacityAh, 1), num(100*b.Capacity, 0), num(100*b.Resistance, 0), num(b.ChargePct, 0))},
		{"Surroundings", surroundings(p)},
	}
	if b.Weak != nil {
		list = append(list, Fact{"Planted fault", fmt.Sprintf("one weak block: %s %% of the capacity, %s %% of the resistance", num(100*b.Weak.Capacity, 1), num(100*b.Weak.Resistance, 0))})
	}
	return list
}

func surroundings(p *plan.Plan) string {
	if p.Room == nil {
		return fmt.Sprintf("always %s °C", num(p.Battery.AmbientC, 1))
	}
	return fmt.Sprintf("a room with its own heat, %s °C at the start", num(p.Battery.AmbientC, 1))
}

func generator(g *plan.Generator) string {
	if g == nil {
		return "; no generator"
	}
	return fmt.Sprintf("; generator of %s W, started after %s, there after %s", num(g.RatingW, 0), span(g.StartAfter), span(g.StartTakes))
}

func lines(n int) string {
	if n < 2 {
		return "one line"
	}
	return strconv.Itoa(n) + " lines"
}

// groups are the outlet groups; none if there is nothing to tell of them.
func groups(p *plan.Plan) Table {
	t := Table{Title: "Outlet groups", Head: []string{"group", "fed by", "on delay", "off delay", "shed on battery"}}
	for i := range p.Groups {
		g := &p.Groups[i]
		fed := "UPS"
		switch {
		case g.FromMains:
			fed = "mains, past the UPS"
		case g.Unit > 0:
			fed = "unit " + p.Units[g.Unit-1].UnitName
		}
		off := "with the output"
		if g.OffDelay != vtime.Never {
			off = span(g.OffDelay)
		}
		t.Rows = append(t.Rows, []string{g.Name, fed, span(g.OnDelay), off, shed(&g.Rules)})
	}
	return t
}

func shed(r *plan.Rules) string {
	var parts []string
	if r.ShedAfter > 0 {
		parts = append(parts, "after "+span(r.ShedAfter))
	}
	if r.ShedRuntime > 0 {
		parts = append(parts, "below "+span(r.ShedRuntime)+" of runtime")
	}
	if r.ShedPct > 0 {
		parts = append(parts, fmt.Sprintf("below %d %%", r.ShedPct))
	}
	if len(parts) == 0 {
		return "never"
	}
	return strings.Join(parts, ", ")
}

func hosts(p *plan.Plan) Table {
	t := Table{Title: "Protected hosts, as planned", Head: []string{"host", "groups", "draws", "stop", "start", "needs", "when power returns"}}
	for i := range p.Hosts {
		h := &p.Hosts[i]
		row := []string{h.Name, names(h.Groups, func(k int) string { return p.Groups[k].Name }), num(h.DrawW, 0) + " W",
			span(h.Stop), span(h.Boot), names(h.Needs, func(k int) string { return p.Hosts[k].Name }),
			[...]string{plan.RestartOn: "starts", plan.RestartLast: "as it was", plan.RestartOff: "stays off"}[h.Restart]}
		if len(h.Process) > 0 {
			row[3], row[4] = "a program", "a program"
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func names(list []int, name func(int) string) string {
	if len(list) == 0 {
		return "–"
	}
	all := make([]string, len(list))
	for i, k := range list {
		all[i] = name(k)
	}
	return strings.Join(all, ", ")
}

// manager is what the modelled shutdown manager goes by.
func manager(p *plan.Policy) []Fact {
	if p == nil {
		return []Fact{{"Shutdown manager", "none is modelled: the software under test decides"}}
	}
	var when []string
	for _, w := range []struct {
		is   bool
		text string
	}{
		{p.OnBatteryFor > 0, span(p.OnBatteryFor) + " on battery"},
		{p.RuntimeBelow > 0, "runtime below " + span(p.RuntimeBelow)},
		{p.ChargeBelow > 0, "charge below " + num(p.ChargeBelow, 0) + " %"},
		{p.OnLowBattery, "low battery"},
		{p.Inlet != "", "probe " + p.Inlet + " above " + num(p.InletAbove, 0) + " C"},
	} {
		if w.is {
			when = append(when, w.text)
		}
	}
	return []Fact{
		{"Shutdown manager", fmt.Sprintf("polls every %s and acts after %d in agreement: %s", span(p.Poll), p.Confirm, strings.Join(when, ", or "))},
		{"Its deadlines", fmt.Sprintf("%s for each host, output off %s after the last; back after %s off and with %s %% charge", span(p.HostDeadline), span(p.OffDelay), span(p.MinOff), num(p.MinCharge, 0))},
	}
}

// settings are those of the card, as left, that are not those of a new one. Secrets are
// named only.
func settings(last *snap.Site) (list []Fact) {
	_, text := scenario.Default()
	p, err := scenario.Load("new card", text, scenario.Options{})
	if err != nil {
		panic(err) // the built-in scenario is tested
	}
	for _, c := range setting.Diff(&p.Card.Settings, &last.Card.Settings) {
		value := c.To
		switch {
		case c.Added:
			value = "added"
		case c.Removed:
			value = "removed"
		}
		list = append(list, Fact{c.Path, value})
	}
	return list
}

// allSettings are all of them.
func allSettings(last *snap.Site) []Fact {
	var list []Fact
	for _, r := range setting.Every(&last.Card.Settings) {
		list = append(list, Fact{r.Path, r.Show(&last.Card.Settings)})
	}
	return list
}

// num is v with that many decimals.
func num(v float64, decimals int) string { return strconv.FormatFloat(v, 'f', decimals, 64) }

// span is a duration for people, such as "1 min 30 s"; "none" for never.
func span(t vtime.Tick) string {
	if t == vtime.Never {
		return "none"
	}
	var parts []string
	for _, u := range []struct {
		of   vtime.Tick
		name string
	}{{vtime.Hour, "h"}, {vtime.Minute, "min"}, {vtime.Second, "s"}, {vtime.Millisecond, "ms"}} {
		if n := t / u.of; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, u.name))
			t -= n * u.of
		}
	}
	if len(parts) == 0 {
		return "0 s"
	}
	return strings.Join(parts, " ")
}
