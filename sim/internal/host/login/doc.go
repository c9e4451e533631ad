// Package login asks the servers that know a card's users: RADIUS and LDAP. It holds
// no users and takes no decision of its own; see [snap.SignInRules.Decide].
package login
