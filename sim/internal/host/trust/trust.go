package trust

import (
	"crypto/sha256"
	"crypto/subtle"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"errors"
	"strings"
	"time"
)

// Config is how the card speaks TLS with a server of that name: version 1.2 at least
// (RFC 8996 did away with what was before), and trusting what rule says: "system",
// "any", or "sha256:" and the digest of the server's certificate. seen is told when the
// first of the certificates expires that an accepted server has shown.
func Config(rule, server string, seen func(time.Time)) *tls.Config {
	c := &tls.Config{ServerName: server, MinVersion: tls.VersionTLS12}
	digest, pinned := strings.CutPrefix(rule, "sha256:")
	if rule == "any" || pinned {
		c.InsecureSkipVerify = true
	}
	c.VerifyConnection = func(s tls.ConnectionState) error {
		if pinned {
			if err := check(s, digest); err != nil {
				return err
			}
		}
		if ends := Expires(s.PeerCertificates); !ends.IsZero() {
			seen(ends)
		}
		return nil
	}
	return c
}

// Expires is when the first certificate of a chain does; zero of none.
func Expires(chain []*x509.Certificate) (first time.Time) {
	for _, c := range chain {
		if first.IsZero() || c.NotAfter.Before(first) {
			first = c.NotAfter
		}
	}
	return first
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
