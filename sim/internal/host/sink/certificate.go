package sink

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"math/big"
	"net"
	"time"

	"ridethrough/sim/internal/core/plan"
)

// Certificate is a throw-away certificate for all sinks of a session. Nobody has to
// keep its key: the next session has another one.
type Certificate struct {
	PEM    []byte // without the key
	SHA256 string // of the certificate, in hexadecimal digits
	pair   tls.Certificate
}

// newCertificate is one for the names and addresses of servers, and for loopback. It is
// valid whatever the date on the card: a simulation may be in any year.
func newCertificate(servers []plan.Server) (*Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "ridethrough sink, for this session alone"},
		NotBefore: time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC), NotAfter: time.Date(2099, 1, 1, 0, 0, 0, 0, time.UTC),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames:    []string{"localhost"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	for i := range servers {
		if v := &servers[i]; v.Sink {
			template.IPAddresses = append(template.IPAddresses, v.Address.AsSlice())
			if v.DNSName != "" {
				template.DNSNames = append(template.DNSNames, v.DNSName)
			}
		}
	}
	raw, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(raw)
	return &Certificate{
		PEM:    pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: raw}),
		SHA256: hex.EncodeToString(sum[:]),
		pair:   tls.Certificate{Certificate: [][]byte{raw}, PrivateKey: key},
	}, nil
}

// tls is how the sink speaks TLS at present, nil if it does not.
func (k *sink) tls() *tls.Config {
	c := &tls.Config{Certificates: []tls.Certificate{k.set.cert.pair}, MinVersion: tls.VersionTLS12}
	switch k.state().TLS {
	case "old": // a fault that somebody asked for: RFC 8996 did away with these
		c.MinVersion, c.MaxVersion = tls.VersionTLS10, tls.VersionTLS11
	case "none":
		return nil
	}
	return c
}
