package sim

import (
	"fmt"
	"strings"
)

// Units are the names of the further units of the site, none if there is one unit.
func (s *Scenario) Units() (names []string) {
	for _, u := range s.plan.Units {
		names = append(names, u.UnitName)
	}
	return names
}

// Alone is s as one of its units has it when the others are dead: it carries every
// machine that hangs on it, and nothing of the timeline happens. "" is the first unit,
// or all there is. The error is an *InvalidError for a name that no unit has.
func (s *Scenario) Alone(unit string) (*Scenario, error) {
	number := 0
	for i, name := range s.Units() {
		if name == unit {
			number = i + 1
		}
	}
	if unit != "" && number == 0 {
		known := "the site has one unit: leave it out"
		if names := s.Units(); len(names) > 0 {
			known = "expected " + strings.Join(names, ", ") + ", or nothing for the first"
		}
		return nil, invalidFile(s.name, fmt.Sprintf("there is no unit %q; %s", unit, known))
	}
	c := *s
	c.plan, c.unit = s.plan.Alone(number), number
	c.shares = number > 0 && s.plan.Units[number-1].SharedSource
	return &c, nil
}
