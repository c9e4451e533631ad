package setting

import (
	"fmt"
	"slices"
	"strings"

	"github.com/agext/levenshtein"

	"ridethrough/sim/internal/core/snap"
)

// Ref is one setting of some settings: a row of the table, or a column of an entry
// of a list. It holds as long as the entries of the list stay.
type Ref struct {
	*Setting
	Path  string // with the name of the entry
	Entry string // "" outside of lists
	index int
}

// Get is the present value as text, "none" where nothing is set and that can be
// told from a text. A secret is given in clear: see [Ref.Show].
func (r Ref) Get(s *snap.Settings) string { return r.get(s, r.index) }

// Show is the present value for people.
func (r Ref) Show(s *snap.Settings) string {
	switch v := r.get(s, r.index); {
	case r.key != nil && v != "":
		if saved, stale := r.key.stale(s, r.index); stale {
			return "(set for " + saved.String() + ")"
		}
		return "(set)"
	case r.Secret && v != "":
		return "(set)"
	case r.Secret:
		return "(not set)"
	case r.Text:
		return fmt.Sprintf("%q", v)
	default:
		return v
	}
}

// Typed says why a person may not type text here, which an import may carry; nil: he may,
// as far as that goes.
func (r Ref) Typed(text string) error {
	if r.typed == nil {
		return nil
	}
	if why := r.typed(text); why != "" {
		return fmt.Errorf("%s", why)
	}
	return nil
}

// Set reads text into s, which must not be shared. The error says what is wrong
// and what is expected; s is then unchanged.
func (r Ref) Set(s *snap.Settings, text string) error { return r.set(s, r.index, text) }

// Veil puts in the place of a secret what name gives for it, in s, which must not be
// shared.
func (r Ref) Veil(s *snap.Settings, name func(secret string) string) {
	if r.hide != nil {
		r.hide(s, r.index, name)
	}
}

// Find is the setting of that path in s.
func Find(s *snap.Settings, path string) (Ref, error) {
	path = strings.ToLower(strings.TrimSpace(path))
	for _, r := range table {
		if r.setting != nil && r.setting.Path == path {
			return Ref{Setting: r.setting, Path: path}, nil
		}
		if r.list == nil || !strings.HasPrefix(path, r.list.Path+".") {
			continue
		}
		return r.list.find(s, path)
	}
	return Ref{}, fmt.Errorf("there is no setting %q%s", path, suggest(path, paths(s)))
}

func (l *List) find(s *snap.Settings, path string) (Ref, error) {
	name, column, whole := strings.Cut(strings.TrimPrefix(path, l.Path+"."), ".")
	i := slices.Index(l.names(s), name)
	if i < 0 {
		return Ref{}, fmt.Errorf("there is no %s %q%s", l.Label, name, suggest(name, l.names(s)))
	}
	var columns []string
	for _, c := range l.Columns {
		if whole && c.name() == column {
			return Ref{Setting: c, Path: path, Entry: name, index: i}, nil
		}
		columns = append(columns, c.name())
	}
	if !whole {
		return Ref{}, fmt.Errorf("%s is a whole %s: its settings are %s", path, l.Label, strings.Join(columns, ", "))
	}
	if near := suggest(column, columns); near != "" {
		return Ref{}, fmt.Errorf("a %s has no setting %q%s", l.Label, column, near)
	}
	return Ref{}, fmt.Errorf("a %s has no setting %q: its settings are %s", l.Label, column, strings.Join(columns, ", "))
}

// name is the last part of the path.
func (x *Setting) name() string { return x.Path[strings.LastIndex(x.Path, ".")+1:] }

// FindList is the list of that path.
func FindList(path string) (*List, error) {
	path = strings.ToLower(strings.TrimSpace(path))
	var known []string
	for _, l := range Lists() {
		if l.Path == path {
			return l, nil
		}
		known = append(known, l.Path)
	}
	return nil, fmt.Errorf("there is no list %q%s", path, suggest(path, known))
}

// suggest names the nearest of known, if one is near.
func suggest(typed string, known []string) string {
	best, name := 0.7, ""
	for _, k := range known {
		if near := levenshtein.Similarity(typed, k, nil); near > best {
			best, name = near, k
		}
	}
	if name == "" {
		return ""
	}
	return ": did you mean " + name + "?"
}

// Names are the names of the entries in s.
func (l *List) Names(s *snap.Settings) []string { return l.names(s) }

// maxName bounds the name of an entry.
const maxName = 24

// Add appends an entry with that name and the factory's values to s, which must
// not be shared.
func (l *List) Add(s *snap.Settings, name string) error {
	names := l.names(s)
	switch {
	case l.Fixed != "":
		return fmt.Errorf("there is no room for another %s: %s", l.Label, l.Fixed)
	case !isName(name):
		return fmt.Errorf("%q is no name for a %s: up to %d lower-case letters, digits, hyphens and underscores, a letter first", name, l.Label, maxName)
	case slices.Contains(names, name):
		return fmt.Errorf("there is a %s %q already", l.Label, name)
	case len(names) >= l.Max:
		return fmt.Errorf("there are %d of them: there is no room for another %s", l.Max, l.Label)
	}
	return l.add(s, name)
}

// Remove takes the entry with that name out of s, which must not be shared.
func (l *List) Remove(s *snap.Settings, name string) error {
	i := slices.Index(l.names(s), name)
	if i < 0 {
		return fmt.Errorf("there is no %s %q%s", l.Label, name, suggest(name, l.names(s)))
	}
	if l.Fixed != "" {
		return fmt.Errorf("%s %s stays: %s", l.Label, name, l.Fixed)
	}
	l.remove(s, i)
	return nil
}

// EntryName makes a name for an entry of text from elsewhere, one that is not taken.
func EntryName(text string, taken func(string) bool) string {
	name := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9', r == '-':
			return r
		case r >= 'A' && r <= 'Z':
			return r - 'A' + 'a'
		}
		return '-'
	}, text)
	if name == "" || name[0] < 'a' || name[0] > 'z' {
		name = "n" + name
	}
	name = name[:min(len(name), maxName-3)]
	for n := 2; taken(name); n++ {
		name = fmt.Sprintf("%s-%d", strings.TrimSuffix(name, fmt.Sprintf("-%d", n-1)), n)
	}
	return name
}

func isName(name string) bool {
	for i, r := range name {
		letter, other := r >= 'a' && r <= 'z', r >= '0' && r <= '9' || r == '-' || r == '_'
		if !letter && (!other || i == 0) {
			return false
		}
	}
	return name != "" && len(name) <= maxName
}

// In are all settings of a group in s, in order, entry by entry.
func In(s *snap.Settings, g Group) []Ref {
	var refs []Ref
	for _, r := range table {
		if r.group() == g {
			refs = append(refs, r.refs(s)...)
		}
	}
	return refs
}

// Every are all settings in s, in order.
func Every(s *snap.Settings) []Ref {
	var refs []Ref
	for _, r := range table {
		refs = append(refs, r.refs(s)...)
	}
	return refs
}

// Entry are the settings of one entry of l.
func (l *List) Entry(s *snap.Settings, name string) []Ref {
	i := slices.Index(l.names(s), name)
	if i < 0 {
		return nil
	}
	var refs []Ref
	for _, c := range l.Columns {
		refs = append(refs, Ref{Setting: c, Path: l.Path + "." + name + "." + c.name(), Entry: name, index: i})
	}
	return refs
}

func (r row) refs(s *snap.Settings) []Ref {
	if r.setting != nil {
		return []Ref{{Setting: r.setting, Path: r.setting.Path}}
	}
	var refs []Ref
	for _, name := range r.list.names(s) {
		refs = append(refs, r.list.Entry(s, name)...)
	}
	return refs
}

func paths(s *snap.Settings) []string {
	var list []string
	for _, r := range Every(s) {
		list = append(list, r.Path)
	}
	return list
}
