package scenario

import (
	"fmt"
	"net/netip"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/plan"
	settings "ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// signIn fills what is set for signing in, by the rules of the settings themselves.
func (b *builder) signIn(t *cardTable, s *snap.Settings) error {
	if t.SignIn == nil && len(t.RADIUS)+len(t.LDAP) == 0 {
		return nil
	}
	*s = *s.Clone()
	r := s.SignIn
	if x := t.SignIn; x != nil {
		r.Order, r.Fallback, r.DeadTime = snap.SignInOrder(x.Order), x.Fallback, x.Dead
		r.RoleFrom, r.Default = snap.RoleAttribute(x.RoleFrom), snap.RoleWord(x.Default)
		r.LockAfter, r.LockFor, r.Sessions = int(x.After), x.For, int(x.Sessions)
	}
	for i := range t.RADIUS {
		x := &t.RADIUS[i]
		if err := b.addTo(s, "access.radius", x.Name, &x.table); err != nil {
			return err
		}
		r.RADIUS[i] = snap.RADIUSServer{Name: x.Name, Address: x.At.String(), Secret: snap.NewSecret(x.Secret),
			Timeout: x.Timeout, Tries: int(x.Tries), Authenticated: x.Authenticated}
	}
	for i := range t.LDAP {
		x := &t.LDAP[i]
		if err := b.addTo(s, "access.ldap", x.Name, &x.table); err != nil {
			return err
		}
		ref, err := settings.Find(s, "access.ldap."+x.Name+".fingerprint")
		if err == nil {
			err = ref.Set(s, x.Fingerprint)
		}
		if err != nil {
			return b.src.at(x.at("fingerprint"), err.Error(), "the SHA-256 of a certificate")
		}
		r.LDAP[i] = snap.LDAPServer{Name: x.Name, Address: x.At.String(), Mode: snap.LDAPMode(x.Protection), Fingerprint: r.LDAP[i].Fingerprint,
			BindDN: x.BindDN, Base: x.Base, UserAttribute: x.UserAttribute, Timeout: x.Timeout,
			Administrators: x.Administrators, Operators: x.Operators, Viewers: x.Viewers}
		if x.BindPassword != nil {
			r.LDAP[i].BindPassword = snap.NewSecret(*x.BindPassword)
		}
	}
	for _, a := range r.Asks() {
		if a == snap.RADIUS && len(r.RADIUS) == 0 || a == snap.LDAP && len(r.LDAP) == 0 {
			return b.src.at(t.SignIn.at("order"), fmt.Sprintf("order asks %s, and no such server is set", a), fmt.Sprintf("a [[card.%s]]", a))
		}
	}
	return nil
}

// addTo makes room in a list of the settings.
func (b *builder) addTo(s *snap.Settings, path, name string, t *table) error {
	l, err := settings.FindList(path)
	if err == nil {
		err = l.Add(s, name)
	}
	if err != nil {
		return b.src.at(t.at("name"), err.Error(), "a name of its own, of lower-case letters, digits and hyphens")
	}
	return nil
}

// loginServers are the servers as they truly are.
func (b *builder) loginServers() error {
	names, places := map[string]int{}, map[netip.AddrPort]bool{}
	for i := range b.file.LoginServers {
		t := &b.file.LoginServers[i]
		if err := b.unique(names, t.at("name"), "login_server", t.Name); err != nil {
			return err
		}
		if places[t.At] {
			return b.src.at(t.at("at"), fmt.Sprintf("two servers are at %s", t.At), "an address and port of its own for each")
		}
		places[t.At] = true
		s := plan.LoginServer{Name: t.Name, At: t.At.String(), Is: plan.ServerIs(t.Is), Answers: t.Answers, Secret: or(t.Secret, ""), Users: map[string]snap.Role{}, Expires: expiry(t.CertificateDays)}
		for j := range t.Users {
			role, _ := snap.RoleByName(t.Users[j].Role) // the schema lists the names
			s.Users[t.Users[j].Name] = role
		}
		b.plan.LoginServers = append(b.plan.LoginServers, s)
	}
	return nil
}

func (b *builder) signInAction(t *tryTable) (plan.Action, error) {
	if t.Times > 1 && (t.Stays > 0 || t.Then != string(plan.SignsOut)) {
		return plan.Action{}, b.src.at(t.at("times"), "who stays at the card signs in once", "times = 1, or neither stays nor then")
	}
	return plan.Action{Kind: plan.ActSignIn, SignIn: &plan.SignIn{
		User: t.User, Types: t.Types, Surface: t.Surface, From: t.From, Times: int(t.Times), Stays: t.Stays, Then: plan.Leaving(t.Then),
	}}, nil
}

func (b *builder) accountAction(t *accountChangeTable) (plan.Action, error) {
	if why := card.UserFault(t.User); why != "" {
		return plan.Action{}, b.src.at(t.at("user"), fmt.Sprintf("%q is no user name", short(t.User)), "plain characters without blanks")
	}
	role, _ := snap.RoleByName(t.Role)
	return plan.Action{Kind: plan.ActAccount, Account: &plan.AccountChange{User: t.User, Do: t.Do, Role: role}}, nil
}

func (b *builder) loginServerAction(t *serverChangeTable) (plan.Action, error) {
	var known []string
	for i, s := range b.plan.LoginServers {
		if known = append(known, s.Name); s.Name == t.Name {
			return plan.Action{Kind: plan.ActLoginServer, Host: i, Order: t.Is}, nil
		}
	}
	return plan.Action{}, b.missing(t.at("name"), "login_server", t.Name, known)
}
