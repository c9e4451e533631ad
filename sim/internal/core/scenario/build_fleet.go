package scenario

import (
	"fmt"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/plan"
)

// longestBase is the most of a text that leaves room for a device's number where
// the standard or the label bound it to most.
func longestBase(most int) int { return most - len(suffix(maxDevices)) }

func (b *builder) fleet() error {
	t := b.file.Fleet
	if t == nil {
		return nil
	}
	if t.Count == nil && len(t.Scenarios) == 0 {
		return b.src.at(t.node.key, "the fleet has no devices", "count, scenarios or both")
	}
	f := &plan.Fleet{
		Count: int(or(t.Count, 0)), Ports: t.Each == "port",
	}
	total := f.Count
	for i := range t.Scenarios {
		s := &t.Scenarios[i]
		at := b.src.at(s.at("file"), "", "")
		f.Files = append(f.Files, plan.FleetFile{Line: at.Line, Column: at.Column, Path: s.File, Count: int(s.Count)})
		total += int(s.Count)
	}
	if total > maxDevices {
		return b.src.at(t.node.key, fmt.Sprintf("the fleet has %d devices", total), fmt.Sprintf("at most %d", maxDevices))
	}
	b.plan.Fleet = f
	return b.fleetCard()
}

// fleetCard refuses what cards of a fleet cannot have.
func (b *builder) fleetCard() error {
	c := &b.file.Card
	for _, x := range []struct {
		key, text string
		most      int
	}{
		{"serial_number", or(c.SerialNumber, ""), 31}, {"name", or(c.Name, ""), 255}, {"ups_name", c.UPSName, 63},
	} {
		if len(x.text) > longestBase(x.most) {
			return b.src.at(c.at(x.key), "in a fleet "+x.key+" is followed by the number of the device and is too long for that",
				fmt.Sprintf("at most %d characters", longestBase(x.most)))
		}
	}
	for i := range b.file.Hosts {
		if h := &b.file.Hosts[i]; len(h.Process) > 0 {
			return b.src.at(h.at("process"), "a host of a fleet cannot be a real process", "modelled hosts, or one site")
		}
	}
	return nil
}

// devices reads the numbers to which an entry applies.
func (b *builder) devices(t *entryTable) ([]plan.Range, error) {
	if t.Devices == nil {
		return nil, nil
	}
	if b.file.Fleet == nil {
		return nil, b.src.at(t.at("devices"), "the entry names devices of a fleet, and there is no [fleet]", "a [fleet], or no devices")
	}
	var list []plan.Range
	for _, part := range strings.Split(*t.Devices, ",") {
		first, last, isRange := strings.Cut(part, "-")
		if !isRange {
			last = first
		}
		from, err1 := strconv.ParseUint(strings.TrimSpace(first), 10, 31)
		to, err2 := strconv.ParseUint(strings.TrimSpace(last), 10, 31)
		if err1 != nil || err2 != nil || from < 1 || to < from || to > maxDevices {
			return nil, b.src.at(t.at("devices"), fmt.Sprintf("devices is the text %q", short(*t.Devices)),
				fmt.Sprintf("numbers and ranges of numbers from 1 to %d, such as \"1-100, 205\"", maxDevices))
		}
		list = append(list, plan.Range{First: int(from), Last: int(to)})
	}
	return list, nil
}
