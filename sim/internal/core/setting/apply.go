package setting

import (
	"strings"

	"ridethrough/sim/internal/core/snap"
)

// Value is a setting and what it is to be.
type Value struct{ Path, Text string }

// Apply sets values in s, which must not be shared, one after the other, and then
// looks at all of them together. A path in an entry of a list that is not there adds
// the entry. On an error s is spoilt; it was values[at] if at is not negative.
func Apply(s *snap.Settings, values []Value) (at int, err error) {
	for i, v := range values {
		if err := Put(s, v); err != nil {
			return i, err
		}
	}
	for _, check := range together {
		if err := check(s); err != nil {
			return -1, err
		}
	}
	return -1, nil
}

// Put sets one value in s, which must not be shared, and adds the entry that its
// path leads into if that is not there.
func Put(s *snap.Settings, v Value) error {
	if err := addFor(s, v.Path); err != nil {
		return err
	}
	r, err := Find(s, v.Path)
	if err != nil {
		return err
	}
	return r.Set(s, v.Text)
}

// addFor adds the entry that a path leads into.
func addFor(s *snap.Settings, path string) error {
	for _, l := range Lists() {
		rest, under := strings.CutPrefix(strings.ToLower(path), l.Path+".")
		name, _, whole := strings.Cut(rest, ".")
		if under && whole && l.Entry(s, name) == nil {
			return l.Add(s, name)
		}
	}
	return nil
}
