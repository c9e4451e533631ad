package setting

import "ridethrough/sim/internal/core/snap"

// Group is a part of the job.
type Group uint8

// Groups, in the order in which the work is done.
const (
	Identity Group = iota
	Reach
	Access
	Alerts
	Shutdown
	Surroundings
	Upkeep
	groupCount
)

var groups = [groupCount]struct{ name, brief string }{
	Identity:     {"identity", "what the card and its unit are called, and where they stand"},
	Reach:        {"reach", "network address, names and time"},
	Access:       {"access", "who may sign in, and what SNMP opens"},
	Alerts:       {"alerts", "who hears of what, and how"},
	Shutdown:     {"shutdown", "outlet groups, delays, restart and schedule"},
	Surroundings: {"surroundings", "probes, their limits and contacts"},
	Upkeep:       {"upkeep", "journals, tests, battery and firmware"},
}

// String is the group's word, the first part of its paths.
func (g Group) String() string { return groups[g].name }

// Brief says in a line what the group is about.
func (g Group) Brief() string { return groups[g].brief }

// Groups are all groups in order.
func Groups() []Group {
	var list []Group
	for g := range groupCount {
		list = append(list, g)
	}
	return list
}

// GroupByName is the group with that word.
func GroupByName(name string) (Group, bool) {
	for g := range groupCount {
		if groups[g].name == name {
			return g, true
		}
	}
	return 0, false
}

// Setting is one row of the table, or one column of a [List]. It never changes.
type Setting struct {
	Path  string // of a column: the path of the list, "*" and a name
	Group Group
	Label string   // for people
	Help  string   // what it does, one or more whole sentences
	Takes string   // what it accepts, as the end of "expected ..."
	Words []string // if it accepts nothing but these

	Secret bool // never shown, only whether it is set
	Text   bool // shown in quotes, so that an empty one can be seen; - empties it
	Unique bool // belongs to this card alone: not carried to another one
	AtOnce bool // in force when it is saved, not after the next restart
	// Caution is said before a change of it is saved, because it could touch the
	// load or a person; empty: none.
	Caution string
	// Asked says whether a guided edit asks for it, as the others stand; nil: always.
	Asked func(s *snap.Settings) bool

	get  func(s *snap.Settings, entry int) string
	set  func(s *snap.Settings, entry int, text string) error
	hide func(s *snap.Settings, entry int, name func(string) string) // of a secret
	// typed is why a person may not type a value that set takes, "" if he may; nil: he may.
	typed func(text string) string
	key   *keyed // of a pass phrase; nil: it is none
}

// List is a list of entries with a name each.
type List struct {
	Path    string // of an entry: this, and its name
	Group   Group
	Label   string // of one entry
	Help    string
	Max     int // entries
	Columns []*Setting
	AtOnce  bool // an entry comes and goes when it is saved
	// Fixed says why entries neither come nor go; empty: they do.
	Fixed string

	names  func(s *snap.Settings) []string
	add    func(s *snap.Settings, name string) error
	remove func(s *snap.Settings, entry int)
	copy   func(dst, src *snap.Settings)
}

// table holds settings and lists in the order in which they are asked for.
var table []row

// row is a setting or a list.
type row struct {
	setting *Setting
	list    *List
}

// group is the row's.
func (r row) group() Group {
	if r.setting != nil {
		return r.setting.Group
	}
	return r.list.Group
}

// declare appends rows of a group. It is called while the package is set up.
func declare(g Group, rows ...any) {
	for _, r := range rows {
		switch x := r.(type) {
		case *Setting:
			x.Group = g
			table = append(table, row{setting: x})
		case *List:
			x.Group = g
			for _, c := range x.Columns {
				c.Group, c.Path, c.AtOnce = g, x.Path+".*."+c.Path, x.AtOnce
			}
			table = append(table, row{list: x})
		default:
			panic("setting: a row that is neither a setting nor a list")
		}
	}
}

// All are the settings outside of lists, in order.
func All() []*Setting {
	var list []*Setting
	for _, r := range table {
		if r.setting != nil {
			list = append(list, r.setting)
		}
	}
	return list
}

// Lists are the lists, in order.
func Lists() []*List {
	var list []*List
	for _, r := range table {
		if r.list != nil {
			list = append(list, r.list)
		}
	}
	return list
}
