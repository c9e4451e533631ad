package scenario

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/plan"
	settings "ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// access is who may do what over SNMP.
func (b *builder) access(t *cardTable) error {
	a := &snap.Access{RealEngineTime: t.EngineTime == "real", ReportGarbled: t.ReportGarbled}
	b.plan.Card.Access = a
	if err := b.versions(t, a); err != nil {
		return err
	}
	views, err := b.views(t)
	if err != nil {
		return err
	}
	both, err := b.pick(&t.table, views, "read_view", t.ReadView, "write_view", t.WriteView, "notify_view", t.NotifyView)
	if err != nil {
		return err
	}
	a.Reader = snap.Views{Read: both.Read, Notify: both.Notify}
	a.Writer = snap.Views{Read: both.Read, Write: both.Write}
	if err := b.users(t, a, views); err != nil {
		return err
	}
	b.managers(t, a)
	return nil
}

// managers is the same as settings of the card, which a technician may change.
func (b *builder) managers(t *cardTable, a *snap.Access) {
	names := map[string]string{"": snap.ViewNone, snap.ViewAll: snap.ViewAll, snap.ViewNone: snap.ViewNone} // of views as entries
	b.plan.Card.Settings.ChangeManagers(func(m *snap.ManagerSettings) error {
		m.V1, m.V2c, m.V3 = a.V1, a.V2c, a.V3
		for _, v := range t.Views {
			names[v.Name] = settings.EntryName(v.Name, m.HasView)
			m.Views = append(m.Views, snap.NamedView{
				Name: names[v.Name], Include: snap.Subtrees(strings.Join(v.Include, " ")), Exclude: snap.Subtrees(strings.Join(v.Exclude, " ")),
			})
		}
		m.ReadView, m.WriteView, m.NotifyView = names[t.ReadView], names[t.WriteView], names[t.NotifyView]
		for i, u := range a.Users {
			entry := snap.ManagerUser{
				User: u.Name, Auth: u.Auth, AuthPassword: u.AuthPassword, Priv: u.Priv, PrivPassword: u.PrivPassword, Level: u.Level,
				ReadView: names[t.Users[i].Read], WriteView: names[t.Users[i].Write], Alert: names[t.Users[i].Notify],
			}
			entry.Name = settings.EntryName(u.Name, func(name string) bool {
				return slices.ContainsFunc(m.Users, func(o snap.ManagerUser) bool { return o.Name == name })
			})
			m.Users = append(m.Users, entry)
		}
		return nil
	})
}

func (b *builder) versions(t *cardTable, a *snap.Access) error {
	list := t.Versions
	if list == nil {
		list = []string{"v1", "v2c", "v3"}
	}
	for _, v := range list {
		on, ok := map[string]*bool{"v1": &a.V1, "v2c": &a.V2c, "v3": &a.V3}[v]
		if !ok {
			return b.src.at(t.at("versions"), fmt.Sprintf("there is no SNMP version %q", short(v)), oneOf([]string{"v1", "v2c", "v3"}))
		}
		*on = true
	}
	return nil
}

// views is the views of the file by name, with the two that are always there.
func (b *builder) views(t *cardTable) (map[string]*snap.View, error) {
	views := map[string]*snap.View{"all": snap.Everything(), "none": nil}
	for i := range t.Views {
		v := &t.Views[i]
		if _, taken := views[v.Name]; taken {
			return nil, b.src.at(v.at("name"), fmt.Sprintf("there is another view %q", v.Name), "a name of its own for each")
		}
		view := &snap.View{Name: v.Name}
		for _, part := range []struct {
			key      string
			oids     []string
			included bool
		}{{"include", v.Include, true}, {"exclude", v.Exclude, false}} {
			for _, text := range part.oids {
				oid, ok := snap.ParseOID(text)
				if !ok {
					return nil, b.src.at(v.at(part.key), fmt.Sprintf("%q is not an object identifier", short(text)), `numbers with dots, such as "1.3.6.1.2.1.33"`)
				}
				view.Subtrees = append(view.Subtrees, snap.Subtree{OID: oid, Included: part.included})
			}
		}
		views[v.Name] = view
	}
	return views, nil
}

// pick finds the three views that keys of a table name.
func (b *builder) pick(t *table, views map[string]*snap.View, keysAndNames ...string) (v snap.Views, err error) {
	for i, to := range []**snap.View{&v.Read, &v.Write, &v.Notify} {
		key, name := keysAndNames[2*i], keysAndNames[2*i+1]
		view, ok := views[name]
		if !ok {
			names := make([]string, 0, len(views))
			for n := range views {
				names = append(names, n)
			}
			slices.Sort(names)
			return v, b.missing(t.at(key), "view", name, names)
		}
		*to = view
	}
	return v, nil
}

func (b *builder) users(t *cardTable, a *snap.Access, views map[string]*snap.View) error {
	for i := range t.Users {
		u := &t.Users[i]
		if a.User([]byte(u.Name)) != nil {
			return b.src.at(u.at("name"), fmt.Sprintf("there is another user %q", u.Name), "a name of its own for each")
		}
		user, err := b.user(u)
		if err != nil {
			return err
		}
		if user.Views, err = b.pick(&u.table, views, "read", u.Read, "write", u.Write, "notify", u.Notify); err != nil {
			return err
		}
		a.Users = append(a.Users, user)
	}
	return nil
}

func (b *builder) user(t *userTable) (snap.User, error) {
	u := snap.User{
		Name:         t.Name,
		AuthPassword: snap.NewSecret(or(t.AuthPassword, "")), PrivPassword: snap.NewSecret(or(t.PrivPassword, "")),
	}
	u.Auth, _ = snap.AuthByName(t.Auth)
	u.Priv, _ = snap.PrivByName(t.Priv)
	for _, wrong := range []struct {
		is        bool
		key, what string
		want      string
	}{
		{(u.Auth != snap.AuthNone) != (t.AuthPassword != nil), "auth_password", "auth and auth_password do not fit", "both, or neither"},
		{(u.Priv != snap.PrivNone) != (t.PrivPassword != nil), "priv_password", "priv and priv_password do not fit", "both, or neither"},
		{u.Priv != snap.PrivNone && u.Auth == snap.AuthNone, "priv", "there is no privacy without authentication", "auth beside priv"},
	} {
		if wrong.is {
			return u, b.src.at(t.at(wrong.key), wrong.what, wrong.want)
		}
	}
	var err error
	u.Level, err = b.securityLevel(&t.table, t.Level, u.Highest(), &u)
	return u, err
}

// securityLevel is the one that a key names, or def.
func (b *builder) securityLevel(t *table, key *string, def snap.SecurityLevel, u *snap.User) (snap.SecurityLevel, error) {
	if key == nil {
		return def, nil
	}
	l, _ := snap.LevelByName(*key)
	if l > u.Highest() {
		return l, b.src.at(t.at("level"), fmt.Sprintf("user %q has no keys for %v", u.Name, l), "at most "+u.Highest().String())
	}
	return l, nil
}

func (b *builder) receivers(t *cardTable) error {
	for i := range t.Receivers {
		r, err := b.receiver(&t.Receivers[i])
		if err != nil {
			return err
		}
		b.plan.Card.Receivers = append(b.plan.Card.Receivers, r)
	}
	return nil
}

func (b *builder) receiver(t *receiverTable) (r plan.Receiver, err error) {
	r = plan.Receiver{To: t.To, Version: t.Version, Inform: t.Inform, Retries: int(t.Retries), Timeout: t.Timeout}
	if r.AlertRule, err = b.alertRule(t); err != nil {
		return r, err
	}
	a := b.plan.Card.Access
	switch {
	case t.To.Port() == 0 || t.To.Addr().IsUnspecified() || t.To.Addr().IsMulticast():
		return r, b.src.at(t.at("to"), t.To.String()+" cannot receive anything", `an address and port, such as "198.51.100.20:162"`)
	case t.Version == "v1" && !a.V1 || t.Version == "v2c" && !a.V2c || t.Version == "v3" && !a.V3:
		return r, b.src.at(t.at("version"), "the card does not speak "+t.Version, "one of the card's versions")
	case t.Version == "v1" && t.Inform:
		return r, b.src.at(t.at("inform"), "SNMPv1 has no informs", "version v2c or v3")
	case t.Version == "v3":
		return r, b.receiverUser(t, &r)
	case t.User != nil || t.Level != nil:
		return r, b.src.at(t.at("user"), "a user or level without version v3", "community")
	}
	if r.Community = or(t.Community, b.plan.Card.Settings.ReadCommunity.Reveal()); r.Community == "" {
		return r, b.src.at(t.at("community"), "the receiver has no community, because the card's read community is empty", "community in the receiver")
	}
	return r, nil
}

// alertRule is what the receiver gets; the whole is the zero rule.
func (b *builder) alertRule(t *receiverTable) (r snap.AlertRule, err error) {
	if r.Classes, err = b.classes(&t.table, t.Classes); err != nil {
		return r, err
	}
	r.Least = snap.Severity(t.Least).Rank()
	return r.Plain(), nil
}

func (b *builder) receiverUser(t *receiverTable, r *plan.Receiver) (err error) {
	switch {
	case t.Community != nil:
		return b.src.at(t.at("community"), "a community with version v3", "user")
	case t.User == nil:
		return b.src.at(t.at("version"), "the receiver has no user", "user, the name of a [[card.snmp_user]]")
	}
	u := b.plan.Card.Access.User([]byte(*t.User))
	if u == nil {
		var names []string
		for _, u := range b.plan.Card.Access.Users {
			names = append(names, u.Name)
		}
		return b.missing(t.at("user"), "snmp_user", *t.User, names)
	}
	r.User = u.Name
	r.Level, err = b.securityLevel(&t.table, t.Level, u.Level, u)
	return err
}
