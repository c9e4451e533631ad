package sshd

import (
	"bytes"
	"encoding/base64"
	"errors"
	"strings"

	"github.com/gliderlabs/ssh"
	gossh "golang.org/x/crypto/ssh"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/term"
)

var errKey = errors.New("this key opens nothing")

// offered says whether a key that a client offers would open the user's account. It
// lets nobody in: the client has yet to prove that it has the private half.
func (s *Server) offered(meta gossh.ConnMetadata, key gossh.PublicKey) (*gossh.Permissions, error) {
	if !s.opens(meta.User(), key) {
		return nil, errKey
	}
	return &gossh.Permissions{}, nil
}

// opens says whether key is one of an account's. A password that has to be changed
// first has to be typed first.
func (s *Server) opens(user string, key gossh.PublicKey) bool {
	d := s.c.Source.Device()
	a := d.Card.Account(user)
	if !term.Up(d, true) || a == nil || a.MustChange {
		return false
	}
	for _, k := range d.Card.Settings.SignInRules().Keys {
		if k.User == user && bytes.Equal(blob(k.Line), key.Marshal()) {
			return true
		}
	}
	return false
}

// blob is the key in a line of its type and itself.
func blob(line string) []byte {
	_, text, _ := strings.Cut(line, " ")
	b, err := base64.StdEncoding.DecodeString(text)
	if err != nil {
		return nil
	}
	return b
}

// proved begins the session of a client that has proved a key. It may have been
// taken away since it was offered.
func (s *Server) proved(ctx ssh.Context, meta gossh.ConnMetadata, key gossh.PublicKey, p *gossh.Permissions) (*gossh.Permissions, error) {
	by := snap.Actor{Surface: "ssh", User: meta.User(), Peer: meta.RemoteAddr().String()}
	if !s.opens(by.User, key) {
		return nil, errKey
	}
	if !s.signIn(ctx, by, snap.Verdict{OK: true, From: snap.Key}) {
		return nil, errKey
	}
	return p, nil
}
