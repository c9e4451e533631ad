package setting

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

// Bounds of what SNMP opens. A user's name has at most 32 octets (RFC 3414
// SnmpSecurityName in the MIB), a password at least 8 (RFC 3414 section 11.2).
const (
	maxUsers, maxViews = 8, 8
	userName           = 32
	viewText           = 400
)

func init() {
	m := func(s *snap.Settings) *snap.ManagerSettings { return s.Manager() }
	declare(Access,
		atOnce(managers.own(yesNo("access.snmp-v1", "SNMPv1", "Whether the card answers and sends SNMPv1, whose communities anybody on the way can read.", func(s *snap.Settings, _ int) *bool { return &m(s).V1 }))),
		atOnce(managers.own(yesNo("access.snmp-v2c", "SNMPv2c", "Whether it answers and sends SNMPv2c, with the same weakness.", func(s *snap.Settings, _ int) *bool { return &m(s).V2c }))),
		atOnce(managers.own(yesNo("access.snmp-v3", "SNMPv3", "Whether it answers and sends SNMPv3.", func(s *snap.Settings, _ int) *bool { return &m(s).V3 }))),
		unasked(atOnce(managers.own(viewName("access.read-view", "view of the communities", "Which objects both communities may read.", func(s *snap.Settings, _ int) *string { return &m(s).ReadView })))),
		unasked(atOnce(managers.own(viewName("access.write-view", "view of the write community", "Which objects the write community may write.", func(s *snap.Settings, _ int) *string { return &m(s).WriteView })))),
		unasked(atOnce(managers.own(viewName("access.notify-view", "view of notifications", "In which objects a notification under a community must lie.", func(s *snap.Settings, _ int) *string { return &m(s).NotifyView })))),
		atOnceList(managers.ownList(userList())), atOnceList(managers.ownList(viewList())),
	)
	together = append(together, viewsAreThere, usersHold)
}

// managers is the section of what SNMP opens.
var managers = section(func(s *snap.Settings, do func(*snap.Settings) error) error {
	return s.ChangeManagers(func(m *snap.ManagerSettings) error { return do(&snap.Settings{Managers: m}) })
})

// viewName is the name of a view: "all", "none" or one of the list.
func viewName(path, label, help string, at func(*snap.Settings, int) *string) *Setting {
	return &Setting{
		Path: path, Label: label, Help: help, Takes: "all, none or the name of a view of access.snmp-view",
		get: func(s *snap.Settings, i int) string { return *at(s, i) },
		set: func(s *snap.Settings, i int, v string) error {
			name := strings.ToLower(strings.TrimSpace(v))
			if !isName(name) {
				return fmt.Errorf("%q: expected all, none or the name of a view", v)
			}
			*at(s, i) = name
			return nil
		},
	}
}

func userList() *List {
	u := func(s *snap.Settings, i int) *snap.ManagerUser { return &s.Manager().Users[i] }
	return list("access.snmp-user", "SNMPv3 user",
		"A user of SNMPv3, with its protocols, its pass phrases and what it may see.", maxUsers,
		func(s *snap.Settings) *[]snap.ManagerUser { return &s.Manager().Users },
		func(e *snap.ManagerUser) *string { return &e.Name },
		func() snap.ManagerUser {
			return snap.ManagerUser{Auth: snap.AuthSHA256, Priv: snap.PrivAES128, Level: snap.AuthPriv, ReadView: snap.ViewAll, WriteView: snap.ViewNone, Alert: snap.ViewAll}
		},
		securityName(u),
		named("auth", "authentication", "How its messages are signed. Another one takes both pass phrases anew: the card keeps keys that this one made of them.", []snap.AuthProtocol{
			snap.AuthNone, snap.AuthMD5, snap.AuthSHA1, snap.AuthSHA224, snap.AuthSHA256, snap.AuthSHA384, snap.AuthSHA512,
		}, func(s *snap.Settings, i int) *snap.AuthProtocol { return &u(s, i).Auth }),
		phrase("auth-password", "authentication pass phrase", "The pass phrase of the signature. Without it nobody can be this user.",
			u, func(u *snap.ManagerUser) (*snap.Secret, *snap.AuthProtocol) { return &u.AuthPassword, &u.AuthFor }),
		named("priv", "privacy", "How its messages are encrypted. Of 192 and 256 bits two forms are in use: both sides must have the same.", []snap.PrivProtocol{
			snap.PrivNone, snap.PrivDES, snap.PrivAES128, snap.PrivAES192Blumenthal, snap.PrivAES256Blumenthal, snap.PrivAES192Reeder, snap.PrivAES256Reeder,
		}, func(s *snap.Settings, i int) *snap.PrivProtocol { return &u(s, i).Priv }),
		phrase("priv-password", "privacy pass phrase", "The pass phrase of the encryption, of which the digest of auth makes the key.",
			u, func(u *snap.ManagerUser) (*snap.Secret, *snap.AuthProtocol) { return &u.PrivPassword, &u.PrivFor }),
		named("level", "least security level", "What its requests must have at least.", []snap.SecurityLevel{snap.NoAuthNoPriv, snap.AuthNoPriv, snap.AuthPriv},
			func(s *snap.Settings, i int) *snap.SecurityLevel { return &u(s, i).Level }),
		viewName("read", "may read", "Which objects it may read.", func(s *snap.Settings, i int) *string { return &u(s, i).ReadView }),
		viewName("write", "may write", "Which objects it may write.", func(s *snap.Settings, i int) *string { return &u(s, i).WriteView }),
		viewName("notify", "is told", "In which objects a notification to it must lie.", func(s *snap.Settings, i int) *string { return &u(s, i).Alert }),
	)
}

// securityName is what managers send; that of a new entry is the entry's.
func securityName(at func(*snap.Settings, int) *snap.ManagerUser) *Setting {
	x := text("user", "name of the user", "The name that managers send; - makes it that of the entry.", userName, func(s *snap.Settings, i int) *string { return &at(s, i).User })
	get := x.get
	x.get = func(s *snap.Settings, i int) string {
		if v := get(s, i); v != "" {
			return v
		}
		return at(s, i).Name
	}
	set := x.set
	x.set = func(s *snap.Settings, i int, v string) error {
		if v == at(s, i).Name {
			v = ""
		}
		return set(s, i, v)
	}
	return x
}

// named is one of some values that have names, in any case.
func named[T interface {
	comparable
	String() string
}](path, label, help string, values []T, at func(*snap.Settings, int) *T) *Setting {
	var words []string
	for _, v := range values {
		words = append(words, v.String())
	}
	return &Setting{
		Path: path, Label: label, Help: help, Words: words, Takes: "one of " + strings.Join(words, ", "),
		get: func(s *snap.Settings, i int) string { return (*at(s, i)).String() },
		set: func(s *snap.Settings, i int, v string) error {
			k := slices.IndexFunc(words, func(w string) bool { return strings.EqualFold(w, v) })
			if k < 0 {
				return fmt.Errorf("%q: expected one of %s", v, strings.Join(words, ", "))
			}
			*at(s, i) = values[k]
			return nil
		},
	}
}

func viewList() *List {
	v := func(s *snap.Settings, i int) *snap.NamedView { return &s.Manager().Views[i] }
	return list("access.snmp-view", "SNMP view", "A part of the tree of objects, for users and communities.", maxViews,
		func(s *snap.Settings) *[]snap.NamedView { return &s.Manager().Views },
		func(e *snap.NamedView) *string { return &e.Name },
		func() snap.NamedView { return snap.NamedView{Include: "1.3.6.1.2.1"} },
		subtrees("include", "subtrees in it", "The subtrees that it takes in.", func(s *snap.Settings, i int) *snap.Subtrees { return &v(s, i).Include }),
		subtrees("exclude", "subtrees left out", "The subtrees that it leaves out of these: of several that an object lies in the longest counts.", func(s *snap.Settings, i int) *snap.Subtrees { return &v(s, i).Exclude }),
	)
}

func subtrees(path, label, help string, at func(*snap.Settings, int) *snap.Subtrees) *Setting {
	return &Setting{
		Path: path, Label: label, Help: help, Text: true, Takes: "object identifiers with blanks between, such as 1.3.6.1.2.1.33 1.3.6.1.2.1.1",
		get: func(s *snap.Settings, i int) string { return string(*at(s, i)) },
		set: func(s *snap.Settings, i int, v string) error {
			if len(v) > viewText {
				return fmt.Errorf("%d characters are too many: at most %d", len(v), viewText)
			}
			parts := strings.Fields(strings.ReplaceAll(v, ",", " "))
			for _, p := range parts {
				if _, ok := snap.ParseOID(p); !ok {
					return fmt.Errorf("%q is not an object identifier: numbers with dots, such as 1.3.6.1.2.1.33", p)
				}
			}
			*at(s, i) = snap.Subtrees(strings.Join(parts, " "))
			return nil
		},
	}
}

// viewsAreThere: who names a view means one.
func viewsAreThere(s *snap.Settings) error {
	m := s.Manager()
	used := [][2]string{{"access.read-view", m.ReadView}, {"access.write-view", m.WriteView}, {"access.notify-view", m.NotifyView}}
	for i := range m.Users {
		u, path := &m.Users[i], "access.snmp-user."+m.Users[i].Name
		used = append(used, [2]string{path + ".read", u.ReadView}, [2]string{path + ".write", u.WriteView}, [2]string{path + ".notify", u.Alert})
	}
	for _, use := range used {
		if !m.HasView(use[1]) {
			return fmt.Errorf("%s: there is no view %q in access.snmp-view", use[0], use[1])
		}
	}
	return nil
}

// usersHold: a user has one name, and keys for what is asked of it.
func usersHold(s *snap.Settings) error {
	seen := map[string]bool{}
	for _, u := range s.Manager().Users {
		path, name := "access.snmp-user."+u.Name, u.User
		highest := (&snap.User{Auth: u.Auth, Priv: u.Priv}).Highest()
		if name == "" {
			name = u.Name
		}
		switch {
		case seen[name]:
			return fmt.Errorf("%s.user: there is another user %q", path, name)
		case u.Auth == snap.AuthNone && u.Priv != snap.PrivNone:
			return fmt.Errorf("%s.priv: there is no privacy without authentication", path)
		case u.Level > highest:
			return fmt.Errorf("%s.level: its protocols allow %v at most", path, highest)
		}
		if err := phrasesHold(&u, path); err != nil {
			return err
		}
		seen[name] = true
	}
	return nil
}
