package login_test

import (
	"fmt"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/login/logintest"
)

// Entries of a directory with what card.md says is not followed, or no longer good.
const (
	branch = `dn: ou=branch,ou=people,dc=site,dc=example
objectClass: referral
objectClass: extensibleObject
ou: branch
ref: ldap://%s/ou=people,dc=site,dc=example

`
	nested = `dn: cn=night,dc=site,dc=example
objectClass: groupOfNames
cn: night
member: uid=finn,ou=people,dc=site,dc=example

dn: cn=all-setters,dc=site,dc=example
objectClass: groupOfNames
cn: all-setters
member: cn=night,dc=site,dc=example
member: uid=anna,ou=people,dc=site,dc=example

`
	searcher = `dn: cn=%[1]s,dc=site,dc=example
objectClass: person
cn: %[1]s
sn: %[1]s
userPassword: the-card-searches
pwdChangedTime: %[2]s

`
)

// stamp is a time as a directory has it (RFC 4517 section 3.3.13).
func stamp(before time.Duration) string {
	return time.Now().Add(-before).UTC().Format("20060102150405Z")
}

// TestSlapdReferral: who is found through a referral alone is refused, and a
// directory whose answer is nothing but one is silent; asked itself, the server that
// was referred to knows the user.
func TestSlapdReferral(t *testing.T) {
	there := logintest.LDAP(t, logintest.Person("eva"))
	here := logintest.LDAP(t, fmt.Sprintf(branch, there.At))
	whole := func(*snap.LDAPServer) {}
	inside := func(s *snap.LDAPServer) { s.Base = "ou=branch,ou=people,dc=site,dc=example" }
	grant := func(x *snap.SignInRules) *snap.SignInRules { x.Default = "viewer"; return x }
	pass := "eva" + logintest.Tail
	for _, x := range []struct {
		asked  *logintest.Directory
		change func(*snap.LDAPServer)
		try    try
	}{
		{here, whole, try{"through a referral", "eva", pass, snap.Verdict{From: snap.LDAP}, ""}},
		{here, inside, try{"nothing but a referral", "eva", pass, snap.Verdict{From: snap.Nobody}, "the search: Referral"}},
		{here, whole, try{"beside a referral", logintest.Reader, logintest.Reader + logintest.Tail, accepted(snap.LDAP, snap.Viewer), ""}},
		{there, whole, try{"where the user is", "eva", pass, accepted(snap.LDAP, snap.Viewer), ""}},
	} {
		d, said := desk(t, x.asked.At, grant(ldapRules(x.asked, x.change)))
		x.try.check(t, d, said)
	}
}

// TestSlapdNestedGroup: a member of a group in the group that was set has no role from
// it; the direct member beside it has, and so has the first once that group is set.
func TestSlapdNestedGroup(t *testing.T) {
	server := logintest.LDAP(t, logintest.Person("finn"), nested)
	for _, x := range []struct {
		group string
		try   try
	}{
		{"all-setters", try{"in a group of the group", "finn", "finn" + logintest.Tail, accepted(snap.LDAP, snap.NoRole), ""}},
		{"all-setters", try{"beside it", logintest.Setter, logintest.Setter + logintest.Tail, accepted(snap.LDAP, snap.Administrator), ""}},
		{"night", try{"in the group itself", "finn", "finn" + logintest.Tail, accepted(snap.LDAP, snap.Administrator), ""}},
	} {
		rules := ldapRules(server, func(s *snap.LDAPServer) { s.Administrators = "cn=" + x.group + ",dc=site,dc=example" })
		d, said := desk(t, server.At, rules)
		x.try.check(t, d, said)
	}
}

// TestSlapdExpired: the password with which the card searches has passed its age by
// the directory's own policy: it is silent, and the own accounts open where that is
// set. A user whose password has passed it is refused. Both are fine a day younger. One
// that has to be changed first makes the search silent, and lets a user in.
func TestSlapdExpired(t *testing.T) {
	const day = 24 * time.Hour
	server := logintest.LDAP(t, fmt.Sprintf(searcher, "fresh", stamp(time.Hour)+"\npwdReset: TRUE"), logintest.Person("ida", "pwdReset: TRUE\n"),
		fmt.Sprintf(searcher, "old", stamp(2*day)), fmt.Sprintf(searcher, "young", stamp(time.Hour)),
		logintest.Person("gerd", "pwdChangedTime: "+stamp(2*day)+"\n"), logintest.Person("hana", "pwdChangedTime: "+stamp(time.Hour)+"\n"))
	right := logintest.Setter + logintest.Tail
	for _, x := range []struct {
		as       string
		fallback bool
		try      try
	}{
		{"old", false, try{"search, expired", logintest.Setter, right, snap.Verdict{From: snap.Nobody}, "the bind for the search: Invalid Credentials"}},
		{"old", true, try{"search, expired, own account", local, localPass, accepted(snap.Fallback, snap.Administrator), "the bind for the search"}},
		{"young", true, try{"search, in time", logintest.Setter, right, accepted(snap.LDAP, snap.Administrator), ""}},
		{"young", true, try{"search, in time, own account", local, localPass, snap.Verdict{From: snap.LDAP}, ""}},
		{"young", true, try{"user, expired", "gerd", "gerd" + logintest.Tail, snap.Verdict{From: snap.LDAP}, ""}},
		{"young", true, try{"user, to be changed", "ida", "ida" + logintest.Tail, accepted(snap.LDAP, snap.NoRole), ""}},
		{"fresh", false, try{"search, to be changed", logintest.Setter, right, snap.Verdict{From: snap.Nobody}, "the search: Insufficient Access Rights"}},
		{"young", true, try{"user, in time", "hana", "hana" + logintest.Tail, accepted(snap.LDAP, snap.NoRole), ""}},
	} {
		rules := ldapRules(server, func(s *snap.LDAPServer) { s.BindDN = "cn=" + x.as + ",dc=site,dc=example" })
		rules.Fallback = x.fallback
		d, said := desk(t, server.At, rules)
		x.try.check(t, d, said)
	}
}
