package sim

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/phys/battery"
	"ridethrough/sim/internal/phys/provenance"
)

// Parameter is one physical figure of a scenario as it is in force.
type Parameter struct {
	Group string // of what it is a figure
	Name  string // the scenario key that sets it; words, for one that no key sets
	Value float64
	Unit  string // "" for a share, a factor or a number of things
	// From is where the figure comes from: scenario, published, memory (published,
	// but recalled and not seen), practice (common practice), fitted (to published
	// discharge tables), derived (worked out of other figures) or ours (invented).
	From   string
	Source string // the line of the scenario, the source, or how it is worked out
}

// Physics is every physical figure in force, in groups: those that a scenario may
// set, and those of the laws themselves. Of a site with further units it is about the
// first; see [Scenario.Alone].
func (s *Scenario) Physics() ([]Parameter, error) {
	written, err := s.written()
	if err != nil {
		return nil, invalid(s.name, err)
	}
	var list []Parameter
	for _, x := range s.plan.Physics() {
		p := Parameter{x.Group, x.Name, printable(x.Value), x.Unit, string(x.Kind), x.Why}
		if x.Kind == provenance.Fitted && x.Why == "" {
			kind, why := s.plan.Battery.CellOrigin()
			p.From, p.Source = string(kind), why
		}
		if by, ok := setBy(written, x); ok {
			p.From, p.Source = string(provenance.Scenario), fmt.Sprintf("line %d, %s", by.line, by.key)
		}
		list = append(list, p)
	}
	return grouped(append(list, s.laws()...)), nil
}

// printable is v without the noise of its last digits: 110, not 110.00000000000001.
func printable(v float64) float64 {
	v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 9, 64), 64)
	return v
}

// wrote is where the file sets a key.
type wrote struct {
	key  string // as the file has it
	line int
}

// written is what the file sets, by the keys of the first unit: those of another one are
// in its table.
func (s *Scenario) written() (map[string]wrote, error) {
	all, err := scenario.Written(s.name, s.text, scenario.Options{Variant: s.variant})
	if err != nil {
		return nil, err
	}
	table, list := fmt.Sprintf("unit.%d.", s.unit), map[string]wrote{}
	for key, line := range all {
		of, own := strings.CutPrefix(key, table)
		if own || s.unit == 0 || !s.ownTable(key) {
			list[of] = wrote{key, line}
		}
	}
	return list, nil
}

// ownTable says whether key is one of the first unit's, which a further one does not have
// from it.
func (s *Scenario) ownTable(key string) bool {
	table, _, _ := strings.Cut(key, ".")
	return slices.Contains([]string{"ups", "battery", "card", "room", "probe"}, table) || table == "source" && !s.shares
}

// setBy is where the file sets the first key of x that it sets. A cell is chosen by
// its block, which does not make its figures those of the file.
func setBy(written map[string]wrote, x plan.Parameter) (wrote, bool) {
	for key := range strings.SplitSeq(x.Keys, "|") {
		if key == "battery.block" && x.Kind != provenance.Ours {
			continue
		}
		if by, ok := written[x.Numbered(key)]; ok {
			return by, true
		}
	}
	return wrote{}, false
}

// laws are the figures that no key sets, of what the site has.
func (s *Scenario) laws() (list []Parameter) {
	figures := battery.Figures(s.plan.Battery.Management != nil)
	figures = append(append(figures, device.Figures()...), site.Figures()...)
	for _, f := range figures {
		changeover, bypass := f.Group == "changeover", f.Group == "bypass"
		if changeover && s.plan.Source.Generator == nil || bypass && !s.plan.UPS.Bypass.Fitted {
			continue
		}
		list = append(list, Parameter{f.Group, f.Name, printable(f.Value), f.Unit, string(f.Kind), f.Source})
	}
	return list
}

// grouped brings the figures of a group together, the groups in the order in which
// they come first.
func grouped(list []Parameter) (sorted []Parameter) {
	done := map[string]bool{}
	for _, first := range list {
		if done[first.Group] {
			continue
		}
		done[first.Group] = true
		for _, p := range list {
			if p.Group == first.Group {
				sorted = append(sorted, p)
			}
		}
	}
	return sorted
}
