package sshd

import (
	gossh "golang.org/x/crypto/ssh"

	"ridethrough/sim/internal/core/snap"
)

// algorithms are those that the server offers. legacy ones are what RFC 4253 asked
// for at least, with SHA-1 and CBC, and nothing else: a client with a modern policy
// finds none in common.
func algorithms(profile string) gossh.Config {
	if profile != snap.SSHLegacy {
		return gossh.Config{}
	}
	return gossh.Config{
		KeyExchanges: []string{"diffie-hellman-group14-sha1", "diffie-hellman-group1-sha1"},
		Ciphers:      []string{"aes128-cbc", "3des-cbc"},
		MACs:         []string{"hmac-sha1"},
	}
}
