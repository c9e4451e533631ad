package snap

import (
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// ManagerSettings are who may do what over SNMP, as a technician sets it. Nil in
// [Settings] means what a new card has.
type ManagerSettings struct {
	V1, V2c, V3                     bool   // versions that are answered and sent
	ReadView, WriteView, NotifyView string // of the communities
	Views                           []NamedView
	Users                           []ManagerUser
}

// NamedView is a part of the tree of objects: the subtrees in it and those left out
// of these.
type NamedView struct {
	Name             string
	Include, Exclude Subtrees
}

// Subtrees are object identifiers with blanks between, each numbers with dots.
type Subtrees string

// ManagerUser is a user of SNMPv3. Name is that of the entry, User that which
// managers send.
type ManagerUser struct {
	Name, User                 string
	Auth                       AuthProtocol
	AuthPassword               Secret
	Priv                       PrivProtocol
	PrivPassword               Secret
	Level                      SecurityLevel // at least this is asked of requests
	ReadView, WriteView, Alert string        // views to read, to write, to be notified of

	// The protocols that the passwords were saved for: the card keeps nothing but the
	// keys that these make of them. AuthNone: it was typed, and is not saved yet.
	AuthFor AuthProtocol `json:",omitempty"`
	PrivFor AuthProtocol `json:",omitempty"`
}

// Views that are always there.
const (
	ViewAll  = "all"
	ViewNone = "none"
)

// defaultManagers are those of a new card: every version, and nobody of SNMPv3.
var defaultManagers = ManagerSettings{V1: true, V2c: true, V3: true, ReadView: ViewAll, WriteView: ViewAll, NotifyView: ViewAll}

// Manager is s.Managers, or the default. It is only read.
func (s *Settings) Manager() *ManagerSettings {
	if s.Managers == nil {
		return &defaultManagers
	}
	return s.Managers
}

// Speaks says whether a version of SNMP, "v1", "v2c" or "v3", is switched on.
func (m *ManagerSettings) Speaks(version string) bool {
	switch version {
	case "v1":
		return m.V1
	case "v2c":
		return m.V2c
	}
	return m.V3
}

// ChangeManagers lets f change what SNMP opens in s, which is not shared. If f
// refuses, it stays as it is.
func (s *Settings) ChangeManagers(f func(*ManagerSettings) error) error {
	m := s.Manager().clone()
	if err := f(m); err != nil {
		return err
	}
	if s.Managers = m; reflect.DeepEqual(m, &defaultManagers) {
		s.Managers = nil
	}
	return nil
}

// clone shares nothing with m.
func (m *ManagerSettings) clone() *ManagerSettings {
	if m == nil {
		return nil
	}
	c := *m
	c.Views, c.Users = slices.Clone(m.Views), slices.Clone(m.Users)
	return &c
}

// HasView says whether a view of that name is there.
func (m *ManagerSettings) HasView(name string) bool {
	return name == ViewAll || name == ViewNone || slices.ContainsFunc(m.Views, func(v NamedView) bool { return v.Name == name })
}

// Usable says whether somebody can be u: its passwords are there.
func (u *ManagerUser) Usable() bool {
	return (u.Auth == AuthNone || !u.AuthPassword.Empty() && u.Fit(u.AuthFor)) && (u.Priv == PrivNone || !u.PrivPassword.Empty() && u.Fit(u.PrivFor))
}

// Access is what the settings open, with what of base is no setting. Users that
// cannot be used are left out.
func (m *ManagerSettings) Access(base *Access) *Access {
	a := &Access{V1: m.V1, V2c: m.V2c, V3: m.V3, RealEngineTime: base.RealEngineTime, ReportGarbled: base.ReportGarbled}
	views := map[string]*View{ViewAll: everything, ViewNone: nil}
	for i := range m.Views {
		views[m.Views[i].Name] = m.Views[i].view()
	}
	a.Reader = Views{Read: views[m.ReadView], Notify: views[m.NotifyView]}
	a.Writer = Views{Read: views[m.ReadView], Write: views[m.WriteView]}
	for i := range m.Users {
		u := &m.Users[i]
		name := u.User
		if name == "" {
			name = u.Name
		}
		if !u.Usable() || a.User([]byte(name)) != nil {
			continue
		}
		a.Users = append(a.Users, User{
			Name: name, Auth: u.Auth, Priv: u.Priv, AuthPassword: u.AuthPassword, PrivPassword: u.PrivPassword, Level: u.Level,
			Views: Views{Read: views[u.ReadView], Write: views[u.WriteView], Notify: views[u.Alert]},
		})
	}
	return a
}

func (v *NamedView) view() *View {
	view := &View{Name: v.Name}
	for _, part := range []struct {
		of Subtrees
		in bool
	}{{v.Include, true}, {v.Exclude, false}} {
		for _, text := range strings.Fields(string(part.of)) {
			if oid, ok := ParseOID(text); ok {
				view.Subtrees = append(view.Subtrees, Subtree{OID: oid, Included: part.in})
			}
		}
	}
	return view
}

// ParseOID reads an object identifier: at most 128 numbers with dots between (RFC
// 2578 section 3.5).
func ParseOID(text string) ([]uint32, bool) {
	const most = 128
	parts := strings.Split(text, ".")
	oid := make([]uint32, len(parts))
	for i, p := range parts {
		n, err := strconv.ParseUint(p, 10, 32)
		if err != nil {
			return nil, false
		}
		oid[i] = uint32(n)
	}
	return oid, len(oid) <= most && oid[0] <= 2
}
