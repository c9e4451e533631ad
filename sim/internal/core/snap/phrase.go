package snap

import (
	"crypto/md5"  // the protocol's, whatever it is worth today
	"crypto/sha1" // likewise
	"crypto/sha256"
	"crypto/sha512"
	"hash"
	"slices"
)

// digests makes the hash of each authentication protocol.
var digests = [...]func() hash.Hash{
	AuthMD5: md5.New, AuthSHA1: sha1.New, AuthSHA224: sha256.New224, AuthSHA256: sha256.New, AuthSHA384: sha512.New384, AuthSHA512: sha512.New,
}

// Digest is a new hash of p, which is not AuthNone.
func (p AuthProtocol) Digest() hash.Hash { return digests[p]() }

// Master is the key Ku that p makes of a pass phrase: the digest of 2^20 octets of
// the phrase, repeated (RFC 3414 section A.2, with the digests of RFC 7860). It takes
// milliseconds. An empty phrase or AuthNone has none.
func Master(p AuthProtocol, phrase string) []byte {
	if p == AuthNone || phrase == "" {
		return nil
	}
	const total = 1 << 20
	h := p.Digest()
	chunk := make([]byte, 0, 4096+len(phrase))
	for len(chunk) < 4096 {
		chunk = append(chunk, phrase...)
	}
	left := total
	for ; left > len(chunk); left -= len(chunk) { // whole phrases: the next one starts anew
		h.Write(chunk)
	}
	h.Write(chunk[:left])
	return h.Sum(nil)
}

// Master is the key that p makes of s, or s itself if it is a key.
func (s Secret) Master(p AuthProtocol) []byte {
	if s.key {
		return s.Key()
	}
	return Master(p, s.Reveal())
}

// Fit says whether the phrase that was saved for a protocol, AuthNone for one that is not
// saved yet, can be used with u's: of a saved one only the key of its protocol is kept.
func (u *ManagerUser) Fit(saved AuthProtocol) bool { return saved == AuthNone || saved == u.Auth }

// Sound says whether u's protocols are some that there are, and its keys such as their
// protocols make.
func (u *ManagerUser) Sound() bool {
	if max(int(u.Auth), int(u.AuthFor), int(u.PrivFor)) >= len(authNames) || int(u.Priv) >= len(privNames) {
		return false
	}
	made := func(s Secret, p AuthProtocol) bool {
		return !s.key || p != AuthNone && len(*s.text) == p.Digest().Size()
	}
	return made(u.AuthPassword, u.AuthFor) && made(u.PrivPassword, u.PrivFor)
}

// Seal ties the phrases in s, which is not shared, to the protocols that they are saved
// with. One without a protocol, of which no key could be made, goes.
func (s *Settings) Seal() {
	open := func(u ManagerUser) bool {
		return u.AuthFor == AuthNone && !u.AuthPassword.Empty() || u.PrivFor == AuthNone && !u.PrivPassword.Empty()
	}
	if !slices.ContainsFunc(s.Manager().Users, open) {
		return
	}
	s.ChangeManagers(func(m *ManagerSettings) error {
		for i := range m.Users {
			u := &m.Users[i]
			u.AuthFor = sealed(&u.AuthPassword, u.AuthFor, u.Auth)
			u.PrivFor = sealed(&u.PrivPassword, u.PrivFor, u.Auth)
		}
		return nil
	})
}

func sealed(phrase *Secret, saved, now AuthProtocol) AuthProtocol {
	if phrase.Empty() {
		return AuthNone
	}
	if saved == AuthNone {
		saved = now
	}
	if saved == AuthNone {
		*phrase = Secret{}
	}
	return saved
}
