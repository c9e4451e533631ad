package sshd

import (
	"strings"
	"testing"
	"time"

	gossh "golang.org/x/crypto/ssh"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/term/termtest"
)

// TestLegacyAlgorithms: a client with a modern policy finds nothing in common with a
// card that is set to legacy, and says so; one that allows the old ones gets in.
func TestLegacyAlgorithms(t *testing.T) {
	card, addr := start(t, nil)
	card.Change(func(d *snap.Device) {
		d.Card.Settings.ChangeLinks(func(l *snap.LinkSettings) error { l.SSH = snap.SSHLegacy; return nil })
	})
	client := func(c gossh.Config) error {
		conn, err := gossh.Dial("tcp", addr, &gossh.ClientConfig{
			Config: c, User: termtest.User, Auth: []gossh.AuthMethod{gossh.Password(termtest.Password)},
			HostKeyCallback: gossh.InsecureIgnoreHostKey(), Timeout: 10 * time.Second,
		})
		if err == nil {
			conn.Close()
		}
		return err
	}
	modern := gossh.Config{KeyExchanges: []string{"curve25519-sha256"}, Ciphers: []string{"aes128-gcm@openssh.com"}}
	if err := client(modern); err == nil || !strings.Contains(err.Error(), "no common algorithm") {
		t.Errorf("a modern client: %v", err)
	}
	if err := client(algorithms(snap.SSHLegacy)); err != nil {
		t.Errorf("an old client: %v", err)
	}
}
