package sim

import (
	"fmt"
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
// set, and those of the laws themselves.
func (s *Scenario) Physics() ([]Parameter, error) {
	written, err := scenario.Written(s.name, s.text, scenario.Options{Variant: s.variant})
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
		if key, line := setBy(written, x); key != "" {
			p.From, p.Source = string(provenance.Scenario), fmt.Sprintf("line %d, %s", line, key)
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

// setBy is the first key of x that the file sets, with its line. A cell is chosen by
// its block, which does not make its figures those of the file.
func setBy(written map[string]int, x plan.Parameter) (key string, line int) {
	for key := range strings.SplitSeq(x.Keys, "|") {
		if key == "battery.block" && x.Kind != provenance.Ours {
			continue
		}
		key = x.Numbered(key)
		if line, ok := written[key]; ok {
			return key, line
		}
	}
	return "", 0
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
