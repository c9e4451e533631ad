package login

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"time"

	"github.com/go-ldap/ldap/v3"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/trust"
)

// directory is a connection to a server.
type directory struct {
	*ldap.Conn
	server *snap.LDAPServer
}

// askLDAP asks one server. An error means that it is silent.
func (q *question) askLDAP(ctx context.Context, server *snap.LDAPServer, to string) (snap.Answer, snap.Role, error) {
	if q.password == "" { // a bind without a password is one without a user (RFC 4513 section 5.1.2)
		return snap.AnswerRejected, snap.NoRole, nil
	}
	ctx, cancel := context.WithTimeout(ctx, server.Timeout.Duration())
	defer cancel()
	x, err := open(ctx, server, to, func(t time.Time) { q.shown(snap.KeyLDAP(server.Name), t) })
	if err != nil {
		return snap.AnswerSilent, snap.NoRole, err
	}
	defer x.Close()
	defer context.AfterFunc(ctx, func() { x.Close() })()
	user, err := x.find(q.user)
	if err != nil || user == "" {
		return snap.AnswerRejected, snap.NoRole, err
	}
	switch err := x.Bind(user, q.password); {
	case ldap.IsErrorWithCode(err, ldap.LDAPResultInvalidCredentials):
		return snap.AnswerRejected, snap.NoRole, nil
	case err != nil:
		return snap.AnswerSilent, snap.NoRole, fmt.Errorf("the user's bind: %w", brief(err))
	}
	role, err := x.role(user, q.user)
	return snap.AnswerAccepted, q.role(role), err
}

// open connects, and goes on only under TLS.
func open(ctx context.Context, server *snap.LDAPServer, to string, seen func(time.Time)) (*directory, error) {
	var dialer net.Dialer
	raw, err := dialer.DialContext(ctx, "tcp", to)
	if err != nil {
		return nil, err
	}
	deadline, _ := ctx.Deadline()
	raw.SetDeadline(deadline)
	config := accepts(server, seen)
	secure := server.Mode == snap.LDAPS
	if secure {
		raw = tls.Client(raw, config)
	}
	x := &directory{ldap.NewConn(raw, secure), server}
	x.Start()
	if !secure {
		err = x.StartTLS(config)
	} else {
		err = raw.(*tls.Conn).HandshakeContext(ctx)
	}
	if err == nil && server.BindDN != "" {
		if err = x.Bind(server.BindDN, server.BindPassword.Reveal()); err != nil {
			err = fmt.Errorf("the bind for the search: %w", brief(err))
		}
	}
	if err != nil {
		x.Close()
		return nil, err
	}
	return x, nil
}

// brief is a result of LDAP by its name alone: servers put names of users into the
// rest.
func brief(err error) error {
	var e *ldap.Error
	if errors.As(err, &e) {
		return errors.New(ldap.LDAPResultCodeMap[e.ResultCode])
	}
	return err
}

// accepts takes the certificate whose fingerprint was set, or one that it has signed
// for the server: a card has no list of authorities of its own.
func accepts(server *snap.LDAPServer, seen func(time.Time)) *tls.Config {
	return &tls.Config{
		MinVersion:         tls.VersionTLS12,
		InsecureSkipVerify: true, // what follows takes its place
		VerifyConnection: func(s tls.ConnectionState) error {
			for i, c := range s.PeerCertificates {
				sum := sha256.Sum256(c.Raw)
				if subtle.ConstantTimeCompare([]byte(hex.EncodeToString(sum[:])), []byte(server.Fingerprint)) != 1 {
					continue
				}
				if i == 0 || signed(s.PeerCertificates, c) {
					seen(trust.Expires(s.PeerCertificates))
					return nil
				}
			}
			return errors.New("the certificate is not the one whose fingerprint was set")
		},
	}
}

// signed says whether the first of chain descends from root.
func signed(chain []*x509.Certificate, root *x509.Certificate) bool {
	roots, between := x509.NewCertPool(), x509.NewCertPool()
	roots.AddCert(root)
	for _, c := range chain[1:] {
		between.AddCert(c)
	}
	_, err := chain[0].Verify(x509.VerifyOptions{Roots: roots, Intermediates: between, CurrentTime: chain[0].NotBefore,
		KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}) // the card's clock may never have been set
	return err == nil
}

// find is the distinguished name of the user, "" if there is none or more than one.
func (x *directory) find(user string) (string, error) {
	filter := fmt.Sprintf("(%s=%s)", x.server.UserAttribute, ldap.EscapeFilter(user))
	r, err := x.Search(ldap.NewSearchRequest(x.server.Base, ldap.ScopeWholeSubtree, ldap.NeverDerefAliases, 2, 0, false, filter, []string{"1.1"}, nil))
	switch {
	case ldap.IsErrorWithCode(err, ldap.LDAPResultSizeLimitExceeded):
		return "", nil
	case err != nil:
		return "", fmt.Errorf("the search: %w", brief(err))
	case len(r.Entries) != 1:
		return "", nil
	}
	return r.Entries[0].DN, nil
}

// role is the highest whose group the user is in.
func (x *directory) role(dn, user string) (snap.Role, error) {
	if x.server.BindDN != "" { // the user need not be allowed to read groups
		if err := x.Bind(x.server.BindDN, x.server.BindPassword.Reveal()); err != nil {
			return snap.NoRole, fmt.Errorf("the bind for the search: %w", brief(err))
		}
	}
	for _, g := range []struct {
		group string
		role  snap.Role
	}{{x.server.Administrators, snap.Administrator}, {x.server.Operators, snap.Operator}, {x.server.Viewers, snap.Viewer}} {
		if g.group == "" {
			continue
		}
		in, err := x.member(g.group, dn, user)
		if err != nil {
			return snap.NoRole, err
		}
		if in {
			return g.role, nil
		}
	}
	return snap.NoRole, nil
}

// member says whether the group names the user: by RFC 4519 (member, uniqueMember) or
// RFC 2307 (memberUid).
func (x *directory) member(group, dn, user string) (bool, error) {
	filter := fmt.Sprintf("(|(member=%[1]s)(uniqueMember=%[1]s)(memberUid=%s))", ldap.EscapeFilter(dn), ldap.EscapeFilter(user))
	r, err := x.Search(ldap.NewSearchRequest(group, ldap.ScopeBaseObject, ldap.NeverDerefAliases, 1, 0, false, filter, []string{"1.1"}, nil))
	if ldap.IsErrorWithCode(err, ldap.LDAPResultNoSuchObject) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("the search for the group: %w", brief(err))
	}
	return len(r.Entries) > 0, nil
}
