package setting

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// position bounds the text that says where a probe hangs: ours.
const position = 63

func init() {
	declare(Surroundings, atOnce(pairing()), probeList(), contactList())
	together = append(together, probesHold, contactsHold)
}

func pairing() *Setting {
	words := []string{"id", "socket"}
	return &Setting{
		Path: "surroundings.tell-apart", Label: "probes told apart by",
		Help:  "id: readings follow the probe wherever it is plugged in. socket: the first entry is whatever is in socket 1, and so on.",
		Takes: "one of id, socket", Words: words,
		get: func(s *snap.Settings, _ int) string {
			if s.Surroundings.BySocket {
				return words[1]
			}
			return words[0]
		},
		set: func(s *snap.Settings, _ int, v string) error {
			word := strings.ToLower(v)
			if !slices.Contains(words, word) {
				return fmt.Errorf("%q: expected one of id, socket", v)
			}
			s.Surroundings.BySocket = word == words[1]
			return nil
		},
	}
}

func probeList() *List {
	of := func(s *snap.Settings, i int) *snap.ProbeSetting { return &s.Surroundings.Probes[i] }
	temp := func(path, label, help string, at func(*snap.Limits) *snap.Limit) *Setting {
		return decimal(path, label, help, "C", -40, 100, true, func(s *snap.Settings, i int) *float64 { return (*float64)(at(&of(s, i).Temp)) })
	}
	humid := func(path, label, help string, at func(*snap.Limits) *snap.Limit) *Setting {
		return decimal(path, label, help, "%", 0, 100, true, func(s *snap.Settings, i int) *float64 { return (*float64)(at(&of(s, i).Humid)) })
	}
	lowCritical := func(l *snap.Limits) *snap.Limit { return &l.LowCritical }
	lowWarn := func(l *snap.Limits) *snap.Limit { return &l.LowWarn }
	highWarn := func(l *snap.Limits) *snap.Limit { return &l.HighWarn }
	highCritical := func(l *snap.Limits) *snap.Limit { return &l.HighCritical }
	l := list("surroundings.probe", "probe", "Environmental probes: name each by its place.", snap.MaxProbes,
		func(s *snap.Settings) *[]snap.ProbeSetting { return &s.Surroundings.Probes },
		func(p *snap.ProbeSetting) *string { return &p.Name }, freshProbe,
		unique(probeID()),
		text("position", "position", "Where it hangs: at the air inlet of the warmest rack, not at its exhaust and not under the ceiling.", position,
			func(s *snap.Settings, i int) *string { return &of(s, i).Position }),
		choice("unit", "unit", "Unit in which the menu shows its temperature. Limits, SNMP and programs have degrees Celsius whatever it is.",
			[]snap.TempUnit{snap.Celsius, snap.Fahrenheit}, func(s *snap.Settings, i int) *snap.TempUnit { return &of(s, i).Unit }),
		probeSends(func(s *snap.Settings, i int) *snap.TempUnit { return &of(s, i).Sends }),
		temp("low-critical", "critical below", "Critical below this temperature.", lowCritical),
		temp("low-warn", "warning below", "A warning below this temperature.", lowWarn),
		temp("high-warn", "warning above", "A warning above this temperature.", highWarn),
		temp("high-critical", "critical above", "Critical above this temperature.", highCritical),
		decimal("hysteresis", "hysteresis", "How far back inside a limit the temperature must come; more than the noise of the readings, or alerts flap.", "K", 0, 20, false,
			func(s *snap.Settings, i int) *float64 { return &of(s, i).Temp.Hysteresis }),
		humid("humidity-low-critical", "humidity critical below", "Critical below this relative humidity.", lowCritical),
		humid("humidity-low-warn", "humidity warning below", "A warning below this relative humidity.", lowWarn),
		humid("humidity-high-warn", "humidity warning above", "A warning above this relative humidity.", highWarn),
		humid("humidity-high-critical", "humidity critical above", "Critical above this relative humidity.", highCritical),
		decimal("humidity-hysteresis", "humidity hysteresis", "How far back inside a limit the humidity must come.", "%", 0, 50, false,
			func(s *snap.Settings, i int) *float64 { return &of(s, i).Humid.Hysteresis }),
		decimal("rise", "rise", "A warning when the temperature is so much above the least of the time below.", "K", 0.5, 50, true,
			func(s *snap.Settings, i int) *float64 { return (*float64)(&of(s, i).Rise) }),
		span("rise-in", "rise within", "The time over which the rise counts.", vtime.Minute, vtime.Hour,
			func(s *snap.Settings, i int) *vtime.Tick { return &of(s, i).RiseIn }),
		span("delay", "delay", "How long a reading must stay outside a limit before it counts.", 0, vtime.Hour,
			func(s *snap.Settings, i int) *vtime.Tick { return &of(s, i).Delay }),
	)
	l.AtOnce = true
	return l
}

// probeSends is the unit in which the probe itself reports; the settings have nothing for
// Celsius, as they had before there was a choice.
func probeSends(at func(*snap.Settings, int) *snap.TempUnit) *Setting {
	x := choice("sends", "unit of the probe", "Unit in which the probe itself reports its temperature: read it off the probe. The card makes degrees Celsius of it, and cannot tell a wrong one from a warm room: 72 degrees Fahrenheit taken for Celsius are 72 degrees Celsius everywhere, for limits too.",
		[]snap.TempUnit{snap.Celsius, snap.Fahrenheit}, at)
	set := x.set
	x.get = func(s *snap.Settings, i int) string { return string(cmp.Or(*at(s, i), snap.Celsius)) }
	x.set = func(s *snap.Settings, i int, v string) error {
		err := set(s, i, v)
		*at(s, i) = at(s, i).Plain()
		return err
	}
	return x
}

// freshProbe is a probe that nobody has set limits for. Hysteresis and delay: common
// practice.
func freshProbe() snap.ProbeSetting {
	return snap.ProbeSetting{
		Unit: snap.Celsius, Temp: snap.NoLimits(1), Humid: snap.NoLimits(3),
		Rise: snap.NoLimit(), RiseIn: 10 * vtime.Minute, Delay: 30 * vtime.Second,
	}
}

// probeID is the id of a probe: eight hexadecimal digits.
func probeID() *Setting {
	const takes = "eight hexadecimal digits as they stand on the probe, or none"
	return &Setting{
		Path: "id", Label: "id", Help: "Id of the probe that it is paired with; the word probes lists what is plugged in.", Takes: takes,
		get: func(s *snap.Settings, i int) string {
			if id := s.Surroundings.Probes[i].ID; id != "" {
				return id
			}
			return "none"
		},
		set: func(s *snap.Settings, i int, v string) error {
			id := strings.ToLower(strings.TrimSpace(v))
			if id == "none" || id == "-" {
				id = ""
			}
			if id != "" && !IsProbeID(id) {
				return fmt.Errorf("%q: expected %s", v, takes)
			}
			s.Surroundings.Probes[i].ID = id
			return nil
		},
	}
}

// IsProbeID says whether id is eight lower-case hexadecimal digits.
func IsProbeID(id string) bool {
	return len(id) == 8 && strings.Trim(id, "0123456789abcdef") == ""
}

func contactList() *List {
	of := func(s *snap.Settings, i int) *snap.ContactSetting { return &s.Surroundings.Contacts[i] }
	l := list("surroundings.contact", "contact", "Dry contacts at the probes, such as those of doors and leak detectors.", snap.MaxContacts,
		func(s *snap.Settings) *[]snap.ContactSetting { return &s.Surroundings.Contacts },
		func(c *snap.ContactSetting) *string { return &c.Name }, freshContact,
		text("probe", "at probe", "Name of the probe that it is wired to.", maxName, func(s *snap.Settings, i int) *string { return &of(s, i).Probe }),
		whole("input", "input", "Which input of that probe. For extra-low voltage alone: check that the contact is free of voltage before it is wired.", "", 1, snap.ContactInputs, func(s *snap.Settings, i int) *int { return &of(s, i).Input }),
		choice("rests", "rests", "What it is while there is nothing to report. The wrong way round it alerts while all is well, and is silent otherwise.",
			[]snap.Rest{snap.RestsOpen, snap.RestsClosed}, func(s *snap.Settings, i int) *snap.Rest { return &of(s, i).Rests }),
		yesNo("supervised", "supervised loop", "A resistor at the end of its loop lets a cut wire be told from an open contact. Without the resistor it reads as cut.",
			func(s *snap.Settings, i int) *bool { return &of(s, i).Supervised }),
		whole("debounce", "debounce", "How long it must stay open or closed before that counts: contacts rattle.", "ms", 0, 60000, func(s *snap.Settings, i int) *int { return &of(s, i).DebounceMS }),
		choice("severity", "severity", "How much it weighs when it reports.", []snap.Severity{snap.Info, snap.Warning, snap.Critical},
			func(s *snap.Settings, i int) *snap.Severity { return &of(s, i).Severity }),
	)
	l.AtOnce = true
	return l
}

func freshContact() snap.ContactSetting {
	return snap.ContactSetting{Input: 1, Rests: snap.RestsOpen, DebounceMS: 50, Severity: snap.Warning}
}

// probesHold: limits stand in their order with room between them, and no probe has
// two names.
func probesHold(s *snap.Settings) error {
	seen := map[string]string{}
	for i := range s.Surroundings.Probes {
		p := &s.Surroundings.Probes[i]
		path := "surroundings.probe." + p.Name + "."
		if other, twice := seen[p.ID]; twice && p.ID != "" {
			return fmt.Errorf("%sid: probe %s is paired with %s already", path, p.ID, other)
		}
		seen[p.ID] = p.Name
		if err := limitsHold(path, &p.Temp); err != nil {
			return err
		}
		if err := limitsHold(path+"humidity-", &p.Humid); err != nil {
			return err
		}
	}
	return nil
}

func limitsHold(path string, l *snap.Limits) error {
	switch {
	case l.LowCritical.Set() && l.LowWarn.Set() && l.LowCritical > l.LowWarn:
		return fmt.Errorf("%slow-critical: %g is above low-warn, %g", path, l.LowCritical, l.LowWarn)
	case l.HighCritical.Set() && l.HighWarn.Set() && l.HighCritical < l.HighWarn:
		return fmt.Errorf("%shigh-critical: %g is below high-warn, %g", path, l.HighCritical, l.HighWarn)
	}
	for _, low := range []snap.Limit{l.LowCritical, l.LowWarn} {
		for _, high := range []snap.Limit{l.HighWarn, l.HighCritical} {
			if low.Set() && high.Set() && float64(low)+l.Hysteresis > float64(high)-l.Hysteresis {
				return fmt.Errorf("%shysteresis: %g leaves no room between %g and %g", path, l.Hysteresis, low, high)
			}
		}
	}
	return nil
}

// contactsHold: each contact is at a probe that there is, at an input of its own.
func contactsHold(s *snap.Settings) error {
	type place struct {
		probe string
		input int
	}
	seen := map[place]string{}
	for i := range s.Surroundings.Contacts {
		c := &s.Surroundings.Contacts[i]
		path := "surroundings.contact." + c.Name + "."
		known := false
		for k := range s.Surroundings.Probes {
			known = known || s.Surroundings.Probes[k].Name == c.Probe
		}
		if !known {
			return fmt.Errorf("%sprobe: there is no probe %q: name one, or remove the contact", path, c.Probe)
		}
		at := place{c.Probe, c.Input}
		if other := seen[at]; other != "" {
			return fmt.Errorf("%sinput: input %d of probe %s is that of contact %s", path, c.Input, c.Probe, other)
		}
		seen[at] = c.Name
	}
	return nil
}
