package trust

import (
	"crypto/sha256"
	"crypto/subtle"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"strings"
)

// Config is how the card speaks TLS with a server of that name: version 1.2 at least
// (RFC 8996 did away with what was before), and trusting what rule says: "system",
// "any", or "sha256:" and the digest of the server's certificate.
func Config(rule, server string) *tls.Config {
	c := &tls.Config{ServerName: server, MinVersion: tls.VersionTLS12}
	digest, pinned := strings.CutPrefix(rule, "sha256:")
	if rule == "any" || pinned {
		c.InsecureSkipVerify = true
	}
	if pinned {
		c.VerifyConnection = func(s tls.ConnectionState) error { return check(s, digest) }
	}
	return c
}

func check(s tls.ConnectionState, digest string) error {
	if len(s.PeerCertificates) == 0 {
		return errors.New("the server shows no certificate")
	}
	sum := sha256.Sum256(s.PeerCertificates[0].Raw)
	if got := hex.EncodeToString(sum[:]); subtle.ConstantTimeCompare([]byte(got), []byte(digest)) != 1 {
		return errors.New("the server's certificate is another one: sha256:" + got)
	}
	return nil
}
