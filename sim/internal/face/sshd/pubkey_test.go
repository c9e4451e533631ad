package sshd

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/rsa"
	"errors"
	"io"
	"net"
	"testing"
	"time"

	gossh "golang.org/x/crypto/ssh"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/term/termtest"
)

// admit lets a key in as a technician would.
func admit(t *testing.T, card *termtest.Source, user string, signer gossh.Signer) {
	t.Helper()
	s := card.Device().Card.Saved.Clone()
	list, err := setting.FindList("access.key")
	if err == nil {
		err = list.Add(s, "one")
	}
	for path, value := range map[string]string{"user": user, "line": string(gossh.MarshalAuthorizedKey(signer.PublicKey())) + " a comment"} {
		ref, at := setting.Find(s, "access.key.one."+path)
		if err = errors.Join(err, at); err == nil {
			err = ref.Set(s, value)
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	card.Submit(snap.Command{Op: snap.OpSave, Settings: s})
}

func withKeys(addr, user string, signers ...gossh.Signer) (*gossh.Client, error) {
	return gossh.Dial("tcp", addr, &gossh.ClientConfig{User: user, Auth: []gossh.AuthMethod{gossh.PublicKeys(signers...)}, HostKeyCallback: gossh.InsecureIgnoreHostKey()})
}

// TestPublicKeys: each type lets its user in, nobody else, and no other key does.
func TestPublicKeys(t *testing.T) {
	_, ed, _ := ed25519.GenerateKey(rand.Reader)
	ec, _ := ecdsa.GenerateKey(elliptic.P384(), rand.Reader)
	rs, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		t.Fatal(err)
	}
	for name, key := range map[string]crypto.Signer{"ed25519": ed, "ecdsa": ec, "rsa": rs} {
		signer, err := gossh.NewSignerFromSigner(key)
		if err != nil {
			t.Fatal(err)
		}
		card, addr := start(t, nil)
		if c, err := withKeys(addr, termtest.User, signer); err == nil {
			c.Close()
			t.Fatalf("%s: a key that nobody has entered lets in", name)
		}
		admit(t, card, termtest.User, signer)
		if c, err := withKeys(addr, "nobody", signer); err == nil {
			c.Close()
			t.Errorf("%s: another user gets in", name)
		}
		c, err := withKeys(addr, termtest.User, signer)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		d := openDialog(t, c)
		d.until("Signed in as installer, administrator")
		c.Close()
		for _, x := range card.Commands() {
			if x.Op == snap.OpSignIn && (x.Text != string(snap.Key) || !x.OK || x.By.User != termtest.User) {
				t.Errorf("%s: %+v", name, x)
			}
		}
	}
}

// borrowed shows somebody else's public key and signs with a key of its own.
type borrowed struct {
	public gossh.PublicKey
	own    gossh.Signer
}

func (b borrowed) PublicKey() gossh.PublicKey { return b.public }
func (b borrowed) Sign(r io.Reader, data []byte) (*gossh.Signature, error) {
	return b.own.Sign(r, data)
}

// TestOfferedIsNotProved: who shows a public key that opens the account, and does not
// have its private half, does not get in: not with it, and not with a key of his own
// after it.
func TestOfferedIsNotProved(t *testing.T) {
	real, _ := gossh.NewSignerFromSigner(HostKeyFromSeed([32]byte{7}))
	thief, _ := gossh.NewSignerFromSigner(HostKeyFromSeed([32]byte{8}))
	card, addr := start(t, nil)
	admit(t, card, termtest.User, real)
	for name, signers := range map[string][]gossh.Signer{
		"borrowed": {borrowed{real.PublicKey(), thief}}, "own after borrowed": {borrowed{real.PublicKey(), thief}, thief}, "own": {thief},
	} {
		if c, err := withKeys(addr, termtest.User, signers...); err == nil {
			c.Close()
			t.Errorf("%s: got in", name)
		}
	}
	for _, c := range card.Commands() {
		if c.Op == snap.OpSignIn {
			t.Errorf("a session was begun: %+v", c)
		}
	}
}

// TestThrottle: some tries at once, then one every now and then, for each address by
// itself; whoever signs in starts anew; what is remembered is bounded.
func TestThrottle(t *testing.T) {
	var x throttle
	now := time.Unix(1000, 0)
	a, b := &net.TCPAddr{IP: net.IPv4(192, 0, 2, 1), Port: 1}, &net.TCPAddr{IP: net.IPv4(192, 0, 2, 2)}
	count := func(peer net.Addr, at time.Time) (n int) {
		for range 100 {
			if x.allow(peer, at) {
				n++
			}
		}
		return n
	}
	if n := count(a, now); n != freeTries {
		t.Errorf("%d at once", n)
	}
	a.Port = 2 // another connection is no way round it
	if n := count(a, now.Add(time.Second)); n != 0 {
		t.Errorf("%d a second later", n)
	}
	if n := count(a, now.Add(time.Second+2*tryEvery)); n != 2 {
		t.Errorf("%d after two times %s", n, tryEvery)
	}
	if !x.allow(b, now) {
		t.Error("another address is slowed down too")
	}
	x.forget(a)
	if n := count(a, now); n != freeTries {
		t.Errorf("%d after a sign-in", n)
	}
	for i := range 10 * addresses {
		x.allow(&net.TCPAddr{IP: net.IPv4(198, 51, byte(i>>8), byte(i))}, now)
	}
	if n := len(x.last); n > addresses {
		t.Errorf("%d addresses are remembered", n)
	}
}

// TestTenThousandGuesses: the card answers all of them in bounded memory, looks at few,
// and lets the right one in from elsewhere.
func TestTenThousandGuesses(t *testing.T) {
	card, addr := start(t, func(c *Config) { c.MaxConnections = 64 })
	s, err := New(Config{Source: card, HostKey: HostKeyFromSeed([32]byte{1})})
	if err != nil {
		t.Fatal(err)
	}
	for range 10_000 { // past the handshake, which is what would take the time
		if s.password(switched{meta: lastTry{}}, "guess") {
			t.Fatal("let in")
		}
	}
	if n := len(card.Commands()); n > 2*freeTries {
		t.Errorf("%d guesses were looked at", n)
	}
	for range 30 {
		if c, err := dialAs(addr, termtest.User, "guess"); err == nil {
			c.Close()
			t.Fatal("let in")
		}
	}
	if c, err := dialAs(addr, termtest.User, termtest.Password); err == nil {
		c.Close()
		t.Error("the right password is looked at although its address has guessed too often")
	}
	elsewhere := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 0, 0, 2)}}
	nc, err := elsewhere.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	conn, _, _, err := gossh.NewClientConn(nc, addr, &gossh.ClientConfig{User: termtest.User, Auth: []gossh.AuthMethod{gossh.Password(termtest.Password)}, HostKeyCallback: gossh.InsecureIgnoreHostKey()})
	if err != nil {
		t.Fatalf("from elsewhere: %v", err)
	}
	conn.Close()
}
