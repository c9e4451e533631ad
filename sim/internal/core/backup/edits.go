package backup

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// Edit is one change of settings: Verb is "set" a setting, "add" or "remove" an
// entry of the list at Path.
type Edit struct{ Verb, Path, Value string }

// Do makes the change in s, which must not be shared.
func (e Edit) Do(s *snap.Settings) error {
	if e.Verb == "set" {
		ref, err := setting.Find(s, e.Path)
		if err != nil {
			return err
		}
		return ref.Set(s, e.Value)
	}
	list, err := setting.FindList(e.Path)
	switch {
	case err != nil:
		return err
	case e.Verb == "add":
		return list.Add(s, e.Value)
	}
	return list.Remove(s, e.Value)
}

// Edits are the changes that make s what the file says, for the card with that
// serial number, and what they leave as it is, a line each for people. A setting
// that the file does not name stays; a list that it names has the entries of the
// file and no others. The error is a *Problem.
func (f *File) Edits(s *snap.Settings, serial string) (edits []Edit, left []string, err error) {
	m := &merge{file: f, to: s.Clone(), foreign: f.serial != "" && f.serial != serial}
	for _, l := range setting.Lists() {
		if err := m.entries(l); err != nil {
			return nil, nil, err
		}
	}
	for i := range f.values {
		if err := m.value(&f.values[i]); err != nil {
			return nil, nil, err
		}
	}
	return m.edits, m.left, nil
}

// merge is settings on their way to what a file says.
type merge struct {
	file    *File
	to      *snap.Settings
	foreign bool // the file is of another card
	added   []string
	edits   []Edit
	left    []string
}

// do makes one change and notes it.
func (m *merge) do(e Edit, at int) error {
	if err := e.Do(m.to); err != nil {
		return m.file.problem(at, e.Path+": "+err.Error())
	}
	m.edits = append(m.edits, e)
	return nil
}

// entries makes the list's entries those of the file, if that names the list.
func (m *merge) entries(l *setting.List) error {
	named, wanted := m.file.entries(l)
	if !named || l.Fixed != "" {
		return nil
	}
	for _, name := range l.Names(m.to) {
		if !slices.ContainsFunc(wanted, func(w value) bool { return w.text == name }) {
			if err := m.do(Edit{"remove", l.Path, name}, 0); err != nil {
				return err
			}
		}
	}
	for _, w := range wanted {
		if slices.Contains(l.Names(m.to), w.text) {
			continue
		}
		if err := m.do(Edit{"add", l.Path, w.text}, w.at); err != nil {
			return err
		}
		m.added = append(m.added, l.Path+"."+w.text+".")
	}
	return nil
}

// entries are the names of a list's entries in the file, and whether it names the
// list at all.
func (f *File) entries(l *setting.List) (named bool, list []value) {
	path := strings.Split(l.Path, ".")
	for _, v := range slices.Concat(f.tables, f.values) {
		if len(v.parts) < len(path) || !slices.Equal(v.parts[:len(path)], path) {
			continue
		}
		named = true
		if len(v.parts) == len(path) {
			continue
		}
		name := v.parts[len(path)]
		if !slices.ContainsFunc(list, func(w value) bool { return w.text == name }) {
			list = append(list, value{text: name, at: v.at})
		}
	}
	return named, list
}

// value sets one setting.
func (m *merge) value(v *value) error {
	path := v.path()
	ref, err := setting.Find(m.to, path)
	switch {
	case err != nil:
		return m.file.problem(v.at, err.Error())
	case ref.Unique && m.foreign && v.text == "none":
		return nil // there is nothing that could be carried over
	case ref.Unique && m.foreign:
		m.left = append(m.left, path+" belongs to one card alone, and the text is of another one")
		return nil
	case ref.Secret && v.text == Kept:
		if m.isNew(path) {
			m.left = append(m.left, path+" is a secret, which the text does not hold: set it by hand")
		}
		return nil
	case v.text == ref.Get(m.to):
		return nil
	case v.text == "none":
		if ref.Set(m.to, v.text) != nil { // nothing is set where something has to be
			return m.none(ref, v)
		}
	}
	return m.do(Edit{"set", path, v.text}, v.at)
}

func (m *merge) none(ref setting.Ref, v *value) error {
	if ref.Get(m.to) != "none" {
		m.left = append(m.left, v.path()+" is set, and cannot be taken back to none")
	}
	return nil
}

func (m *merge) isNew(path string) bool {
	return slices.ContainsFunc(m.added, func(entry string) bool { return strings.HasPrefix(path, entry) })
}

// Apply makes all of the edits in s, which must not be shared.
func Apply(edits []Edit, s *snap.Settings) error {
	for _, e := range edits {
		if err := e.Do(s); err != nil {
			return fmt.Errorf("%s: %w", e.Path, err)
		}
	}
	return nil
}
