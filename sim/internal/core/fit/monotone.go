package fit

import (
	"cmp"
	"fmt"
	"slices"
)

// Monotone says where rows contradict each other, as a *[LineError] for the
// first row that does, or nil: of one mode and end voltage, what is carried
// longer must be less; of one mode and time, what is carried to a higher end
// voltage must not be more. No battery can do otherwise, so such a row is a
// slip of the pen.
func Monotone(rows []Row) error {
	byTime := sorted(rows, func(a, b Row) int {
		return cmp.Or(cmp.Compare(a.Mode, b.Mode), cmp.Compare(a.EndV, b.EndV), cmp.Compare(a.Minutes, b.Minutes))
	})
	byVolts := sorted(rows, func(a, b Row) int {
		return cmp.Or(cmp.Compare(a.Mode, b.Mode), cmp.Compare(a.Minutes, b.Minutes), cmp.Compare(a.EndV, b.EndV))
	})
	var first *LineError
	for i := 1; i < len(rows); i++ {
		for _, found := range []*LineError{longer(byTime[i-1], byTime[i]), higher(byVolts[i-1], byVolts[i])} {
			if found != nil && (first == nil || found.Line < first.Line) {
				first = found
			}
		}
	}
	if first == nil {
		return nil
	}
	return first
}

func sorted(rows []Row, by func(a, b Row) int) []Row {
	list := slices.Clone(rows)
	slices.SortStableFunc(list, by)
	return list
}

// longer compares two rows next to each other in time.
func longer(a, b Row) *LineError {
	switch {
	case a.Mode != b.Mode || a.EndV != b.EndV:
		return nil
	case a.Minutes == b.Minutes:
		return &LineError{b.Line, fmt.Sprintf("%s for %g min to %g V stands in line %d already", b.Mode, b.Minutes, b.EndV, a.Line)}
	case b.Load < a.Load:
		return nil
	}
	return &LineError{b.Line, fmt.Sprintf("%s for %g min is not less than %s for %g min in line %d, both to %g V",
		b.load(), b.Minutes, a.load(), a.Minutes, a.Line, b.EndV)}
}

// higher compares two rows next to each other in end voltage.
func higher(a, b Row) *LineError {
	if a.Mode != b.Mode || a.Minutes != b.Minutes || b.Load <= a.Load {
		return nil
	}
	return &LineError{b.Line, fmt.Sprintf("%s to %g V is more than %s to %g V in line %d, both for %g min",
		b.load(), b.EndV, a.load(), a.EndV, a.Line, b.Minutes)}
}

func (r Row) load() string {
	if r.Mode == ConstantPower {
		return fmt.Sprintf("%.4g W a cell", r.Load)
	}
	return fmt.Sprintf("%.4g A", r.Load)
}
