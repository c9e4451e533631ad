package logintest

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
)

const slapdConf = `
include /etc/ldap/schema/core.schema
include /etc/ldap/schema/cosine.schema
include /etc/ldap/schema/inetorgperson.schema
pidfile DIR/pid
modulepath /usr/lib/ldap
moduleload back_mdb
moduleload ppolicy
TLSCertificateFile DIR/cert.pem
TLSCertificateKeyFile DIR/key.pem
security tls=1
database mdb
suffix "dc=site,dc=example"
rootdn "cn=root,dc=site,dc=example"
directory DIR/db
overlay ppolicy
ppolicy_default "cn=policy,dc=site,dc=example"
access to attrs=userPassword by anonymous auth by * none
access to * by dn.onelevel="dc=site,dc=example" read by * none
`

const entries = `dn: dc=site,dc=example
objectClass: dcObject
objectClass: organization
o: an invented site
dc: site

dn: cn=card,dc=site,dc=example
objectClass: person
cn: card
sn: card
userPassword: the-card-searches

dn: ou=people,dc=site,dc=example
objectClass: organizationalUnit
ou: people

`

// policy lets passwords serve for a day, counted from pwdChangedTime of who has one, and
// has who has pwdReset change it first.
const policy = `dn: cn=policy,dc=site,dc=example
objectClass: device
objectClass: pwdPolicy
cn: policy
pwdAttribute: userPassword
pwdMaxAge: 86400
pwdMustChange: TRUE

`

const groups = `dn: cn=setters,dc=site,dc=example
objectClass: groupOfNames
cn: setters
member: uid=anna,ou=people,dc=site,dc=example

dn: cn=actors,dc=site,dc=example
objectClass: groupOfNames
cn: actors
member: uid=bert,ou=people,dc=site,dc=example

dn: cn=viewers,dc=site,dc=example
objectClass: groupOfNames
cn: viewers
member: uid=cora,ou=people,dc=site,dc=example
member: uid=anna,ou=people,dc=site,dc=example
`

// Directory is a slapd. At is where StartTLS is taken, TLS where TLS begins at once.
type Directory struct {
	*Server
	TLS         string
	Fingerprint string // of its certificate
}

// Person is an entry for more users than the server knows by itself; lines are more
// attributes of it, whole lines of LDIF.
func Person(user string, lines ...string) string {
	return "dn: uid=" + user + ",ou=people,dc=site,dc=example\nobjectClass: inetOrgPerson\nuid: " + user +
		"\ncn: " + user + "\nsn: " + user + "\nuserPassword: " + user + Tail + "\n" + strings.Join(lines, "") + "\n"
}

// LDAP starts slapd, which does nothing in clear. It has more entries too, in LDIF
// with an empty line behind each.
func LDAP(t testing.TB, more ...string) *Directory {
	t.Helper()
	program, fill := checks.Program(t, "slapd"), checks.Program(t, "slapadd")
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "db"), 0o700); err != nil {
		t.Fatal(err)
	}
	d := &Directory{TLS: free(t, "tcp"), Fingerprint: certificate(t, dir)}
	conf := write(t, dir, "slapd.conf", strings.ReplaceAll(slapdConf, "DIR", dir))
	text := entries + policy
	for _, user := range []string{Setter, Actor, Viewer, Reader} {
		text += Person(user)
	}
	text += strings.Join(more, "")
	if out, err := exec.Command(fill, "-f", conf, "-l", write(t, dir, "all.ldif", text+groups)).CombinedOutput(); err != nil {
		t.Fatalf("slapadd: %v\n%s", err, out)
	}
	at := free(t, "tcp")
	d.Server = start(t, at, "slapd starting", program, "-d", "stats", "-f", conf, "-h", "ldap://"+at+" ldaps://"+d.TLS)
	for _, at := range []string{at, d.TLS} {
		accepts(t, at)
	}
	return d
}

// accepts waits until somebody listens: slapd says that it starts a little before.
func accepts(t testing.TB, at string) {
	t.Helper()
	for begun := time.Now(); ; time.Sleep(5 * time.Millisecond) {
		c, err := net.Dial("tcp", at)
		if err == nil {
			c.Close()
			return
		}
		if time.Since(begun) > time.Minute {
			t.Fatal(err)
		}
	}
}

// certificate writes a key and a certificate for it, and returns its fingerprint.
func certificate(t testing.TB, dir string) string {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	form := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "directory of an invented site"},
		NotBefore: time.Unix(0, 0), NotAfter: time.Unix(1<<32, 0), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	der, err := x509.CreateCertificate(rand.Reader, form, form, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalECPrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	write(t, dir, "cert.pem", string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})))
	write(t, dir, "key.pem", string(pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: secret})))
	sum := sha256.Sum256(der)
	return hex.EncodeToString(sum[:])
}
