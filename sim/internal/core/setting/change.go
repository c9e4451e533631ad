package setting

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/snap"
)

// Change is one difference between two settings, for people.
type Change struct {
	Ref            // Setting is nil where an entry of a list came or went
	Label          string
	From, To       string // secrets never in clear; "" for an entry that came or went
	Added, Removed bool
}

// Text is the change in a line.
func (c Change) Text() string {
	switch {
	case c.Added:
		return c.Label + " added"
	case c.Removed:
		return c.Label + " removed"
	}
	return c.From + " -> " + c.To
}

// Diff are the changes from one to the other, in the order of the table.
func Diff(from, to *snap.Settings) []Change {
	var list []Change
	for _, r := range table {
		if r.setting != nil {
			ref := Ref{Setting: r.setting, Path: r.setting.Path}
			list = appendChange(list, ref, ref, from, to)
			continue
		}
		list = append(list, r.list.diff(from, to)...)
	}
	return list
}

func (l *List) diff(from, to *snap.Settings) []Change {
	var list []Change
	before, after := l.names(from), l.names(to)
	for _, name := range before {
		if !slices.Contains(after, name) {
			list = append(list, Change{Ref: Ref{Path: l.Path + "." + name, Entry: name}, Label: l.Label + " " + name, Removed: true})
		}
	}
	for _, name := range after {
		base, was := from, slices.Contains(before, name)
		if !was { // compared with a fresh entry
			list = append(list, Change{Ref: Ref{Path: l.Path + "." + name, Entry: name}, Label: l.Label + " " + name, Added: true})
			base = from.Clone()
			if l.add(base, name) != nil {
				continue
			}
		}
		now := l.Entry(to, name)
		for i, ref := range l.Entry(base, name) {
			list = appendChange(list, ref, now[i], base, to)
		}
	}
	return list
}

func appendChange(list []Change, a, b Ref, from, to *snap.Settings) []Change {
	if a.Get(from) == b.Get(to) {
		return list
	}
	c := Change{Ref: b, Label: b.Label, From: a.Show(from), To: b.Show(to)}
	if b.Secret && c.From == c.To {
		c.To = "(another)"
	}
	return append(list, c)
}

// Check says why to cannot take the place of from, nil if it can: each value that
// changes by itself, and all of them together.
func Check(from, to *snap.Settings) error {
	for _, l := range Lists() {
		if l.Fixed != "" && !slices.Equal(l.names(from), l.names(to)) {
			return fmt.Errorf("%s: entries can neither come nor go: %s", l.Path, l.Fixed)
		}
	}
	trial := to.Clone()
	for _, c := range Diff(from, to) {
		if c.Setting == nil {
			continue
		}
		if v := c.Get(to); v != "none" {
			if err := c.Set(trial, v); err != nil {
				return fmt.Errorf("%s: %w", c.Path, err)
			}
		}
	}
	for _, check := range together {
		if err := check(to); err != nil {
			return err
		}
	}
	return nil
}

// together are the rules between settings.
var together = []func(*snap.Settings) error{addressHolds, communitiesDiffer}

func addressHolds(s *snap.Settings) error {
	switch {
	case s.Mode != snap.AddressFixed:
		return nil
	case !s.Fixed.IsValid():
		return fmt.Errorf("reach.address: a fixed address needs an address and a mask")
	}
	if err := CheckGateway(s.Fixed, s.Gateway); err != nil {
		return fmt.Errorf("reach.gateway: %w", err)
	}
	return nil
}

func communitiesDiffer(s *snap.Settings) error {
	if !s.ReadCommunity.Empty() && s.ReadCommunity.Same(s.WriteCommunity) {
		return fmt.Errorf("access.read-community: the read community would open write access")
	}
	return nil
}

// TakeAtOnce brings what needs no restart from saved into inForce, neither of
// which may be shared.
func TakeAtOnce(inForce, saved *snap.Settings) {
	for _, r := range table {
		switch {
		case r.setting != nil && r.setting.AtOnce:
			r.setting.set(inForce, 0, r.setting.get(saved, 0)) // saved was checked
		case r.list != nil && r.list.AtOnce:
			r.list.copy(inForce, saved)
		}
	}
}

// Waits says whether any difference waits for a restart.
func Waits(inForce, saved *snap.Settings) bool {
	now := inForce.Clone()
	TakeAtOnce(now, saved)
	return !now.Same(saved)
}
