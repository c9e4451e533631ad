package menu

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/face/model"
)

func init() {
	register(
		reads("battery", "charge, runtime, voltage and age of the battery", "The charge and the runtime are the unit's estimates. When the battery was replaced is what was entered\nas upkeep.battery.replaced.", model.GroupBattery),
		reads("input", "what arrives at the unit", "Of each line.", model.GroupInput),
		reads("output", "what the unit gives", "Of each line; the load is in percent of the rating.", model.GroupOutput),
		reads("bypass", "what reaches the bypass, if there is one", "Of each line.", model.GroupBypass),
		reads("test", "the last test of the unit, or the running one", "start-test begins one, abort-test ends it.", model.GroupTest),
		reads("config", "what the unit is set to, and its countdowns", "The ratings, its transfer points, low battery, audible alarm and restart: upsConfig and upsControl of RFC 1628.", model.GroupConfig, model.GroupControl),
		tabled("hosts", "hosts on the outlets, with power or without", "Whether a host is at work the card cannot see: it knows its outlets.", model.GroupHosts),
	)
}

// reads is a word that reads all of some groups of variables.
func reads(name, brief, detail string, groups ...model.Group) word {
	return word{name: name, brief: brief, detail: detail, part: partReading,
		read: plain(func(v View) string {
			var b strings.Builder
			for _, x := range inGroups(v, groups) {
				rows := x.Rows(&model.View{Dev: v.Dev, Now: v.Now})
				for i := range rows {
					fmt.Fprintf(&b, "  %-24s %s\n", phase(x.Label, i, rows), x.RowText(v.Dev, v.Now, i))
				}
			}
			b.WriteString(beside(v, name))
			if b.Len() == 0 {
				return "There is none.\n"
			}
			return b.String()
		}),
		data: func(v View, _ []string) any {
			list := []reading{}
			for _, x := range inGroups(v, groups) {
				list = append(list, readings(v, x)...)
			}
			doc := map[string]any{"readings": list}
			if name == "battery" {
				u := v.Dev.Card.Settings.Upkept()
				doc["known_capacity_pct"], doc["packs"], doc["replaced"] = int(v.Dev.Battery.HealthPct+0.5), u.Packs, u.Replaced
			}
			return doc
		}}
}

// beside is what the card knows of it beside the variables.
func beside(v View, name string) string {
	if name != "battery" {
		return ""
	}
	u := v.Dev.Card.Settings.Upkept()
	text := fmt.Sprintf("  %-24s %d %%\n  %-24s %d\n", "Known capacity", int(v.Dev.Battery.HealthPct+0.5), "Packs", u.Packs)
	if u.Replaced == "" {
		return text + fmt.Sprintf("  %-24s %s\n", "Last replaced", "never")
	}
	return text + fmt.Sprintf("  %-24s %s\n", "Last replaced", u.Replaced)
}

// inGroups are the variables of the groups that are there to be read.
func inGroups(v View, groups []model.Group) []*model.Variable {
	var list []*model.Variable
	for _, g := range groups {
		for _, x := range model.Served(v.Dev.Card.Settings.Conformance) {
			if x.Group == g && x.Name != "upsTestSpinLock" {
				list = append(list, x)
			}
		}
	}
	return list
}

// tabled is a word that reads a table, a line for each row.
func tabled(name, brief, detail string, g model.Group) word {
	return word{name: name, brief: brief, detail: detail, part: partReading,
		read: plain(func(v View) string {
			columns := inGroups(v, []model.Group{g})
			n := columns[0].Rows(&model.View{Dev: v.Dev, Now: v.Now})
			if n == 0 {
				return "There is none.\n"
			}
			var head []string
			for _, x := range columns {
				head = append(head, heading(columns[0], x))
			}
			rows := [][]string{head}
			for i := range n {
				var line []string
				for _, x := range columns {
					line = append(line, printable(x.RowText(v.Dev, v.Now, i)))
				}
				rows = append(rows, line)
			}
			return table(rows)
		}),
		data: func(v View, _ []string) any {
			list := []map[string]any{}
			mv := model.View{Dev: v.Dev, Now: v.Now}
			columns := inGroups(v, []model.Group{g})
			for i := range columns[0].Rows(&mv) {
				line := map[string]any{}
				for _, x := range columns {
					line[x.Name] = datum(x, x.At(&mv, i))
				}
				list = append(list, line)
			}
			return list
		}}
}

// heading is the label of a column without what all labels of the table begin with.
func heading(first, x *model.Variable) string {
	if x == first {
		return strings.TrimSuffix(x.Label, " name")
	}
	return strings.TrimSpace(strings.TrimPrefix(x.Label, strings.TrimSuffix(first.Label, " name")))
}
