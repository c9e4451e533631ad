package setting

import "ridethrough/sim/internal/core/snap"

// section is a part of the settings that copies of them share until one is written
// to. It runs do with settings that have a copy of the section and nothing else,
// and makes that copy part of s unless do fails.
type section func(s *snap.Settings, do func(own *snap.Settings) error) error

// always runs do, which cannot fail.
func (in section) always(s *snap.Settings, do func(own *snap.Settings)) {
	in(s, func(own *snap.Settings) error { do(own); return nil })
}

// own has x write to a section that is s's own.
func (in section) own(x *Setting) *Setting {
	set, hide := x.set, x.hide
	x.set = func(s *snap.Settings, i int, v string) error {
		return in(s, func(own *snap.Settings) error { return set(own, i, v) })
	}
	if hide != nil {
		x.hide = func(s *snap.Settings, i int, name func(string) string) {
			in.always(s, func(own *snap.Settings) { hide(own, i, name) })
		}
	}
	if k := x.key; k != nil {
		x.key = &keyed{of: k.of, stale: k.stale, put: func(s *snap.Settings, i int, key []byte) {
			in.always(s, func(own *snap.Settings) { k.put(own, i, key) })
		}}
	}
	return x
}

// ownList does the same for a list and its columns.
func (in section) ownList(l *List) *List {
	add, remove, whole := l.add, l.remove, l.copy
	l.add = func(s *snap.Settings, name string) error {
		return in(s, func(own *snap.Settings) error { return add(own, name) })
	}
	l.remove = func(s *snap.Settings, i int) {
		in.always(s, func(own *snap.Settings) { remove(own, i) })
	}
	l.copy = func(dst, src *snap.Settings) {
		in.always(dst, func(own *snap.Settings) { whole(own, src) })
	}
	for _, c := range l.Columns {
		in.own(c)
	}
	return l
}
