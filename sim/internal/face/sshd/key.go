package sshd

import (
	"crypto"
	"crypto/ed25519"
	"fmt"

	gossh "golang.org/x/crypto/ssh"
)

// HostKeyFromSeed is the host key that belongs to seed. The same seed gives the
// same key, so that a card keeps its key over restarts of the simulator.
func HostKeyFromSeed(seed [32]byte) ed25519.PrivateKey {
	return ed25519.NewKeyFromSeed(seed[:])
}

// PublicKeyLine is the public half of key as it stands in a list of known hosts,
// without the host's name: "ssh-ed25519 AAAA...".
func PublicKeyLine(key crypto.Signer) (string, error) {
	pub, err := gossh.NewPublicKey(key.Public())
	if err != nil {
		return "", fmt.Errorf("sshd: host key: %w", err)
	}
	line := gossh.MarshalAuthorizedKey(pub)
	return string(line[:len(line)-1]), nil
}
