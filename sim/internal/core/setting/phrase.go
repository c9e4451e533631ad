package setting

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
)

// Lengths of a pass phrase of SNMPv3: at least 8 characters (RFC 3414 section 11.2);
// the most is ours.
const (
	leastPhrase = 8
	mostPhrase  = 64
)

// keyed is what a pass phrase has beside a secret: what is kept of it is the key that
// the user's authentication protocol has made of it.
type keyed struct {
	of  func(s *snap.Settings, entry int) []byte
	put func(s *snap.Settings, entry int, key []byte)
	// stale is the protocol for which it was saved if the user has another one now.
	stale func(s *snap.Settings, entry int) (snap.AuthProtocol, bool)
}

// phrase is a pass phrase of a user and the protocol that it was saved for.
func phrase(path, label, help string, user func(*snap.Settings, int) *snap.ManagerUser, at func(*snap.ManagerUser) (*snap.Secret, *snap.AuthProtocol)) *Setting {
	x := secret(path, label, help, leastPhrase, mostPhrase, func(s *snap.Settings, i int) *snap.Secret {
		text, _ := at(user(s, i))
		return text
	})
	set := x.set
	x.set = func(s *snap.Settings, i int, v string) error {
		err := set(s, i, v)
		if _, saved := at(user(s, i)); err == nil {
			*saved = snap.AuthNone
		}
		return err
	}
	x.key = &keyed{
		of: func(s *snap.Settings, i int) []byte {
			text, saved := at(user(s, i))
			return text.Master(*saved)
		},
		put: func(s *snap.Settings, i int, key []byte) {
			text, _ := at(user(s, i))
			*text = snap.NewKey(key)
		},
		stale: func(s *snap.Settings, i int) (snap.AuthProtocol, bool) {
			u := user(s, i)
			text, saved := at(u)
			return *saved, !text.Empty() && u.Auth != snap.AuthNone && !u.Fit(*saved)
		},
	}
	return x
}

// Keyed says whether r is a pass phrase of which only a key is kept.
func (r Ref) Keyed() bool { return r.key != nil }

// Key is the key of a pass phrase that was saved, nil if there is none. It may take
// milliseconds.
func (r Ref) Key(s *snap.Settings) []byte { return r.key.of(s, r.index) }

// PutKey puts a key that was kept into s, which must not be shared.
func (r Ref) PutKey(s *snap.Settings, key []byte) { r.key.put(s, r.index, key) }

// phrasesHold: a key is good for the protocol alone that has made it, and none can be
// made without a protocol.
func phrasesHold(u *snap.ManagerUser, path string) error {
	for _, p := range []struct {
		name   string
		text   snap.Secret
		saved  snap.AuthProtocol
		needed bool
	}{
		{"auth-password", u.AuthPassword, u.AuthFor, u.Auth != snap.AuthNone},
		{"priv-password", u.PrivPassword, u.PrivFor, u.Priv != snap.PrivNone},
	} {
		switch {
		case p.text.Empty():
		case p.needed && !u.Fit(p.saved):
			return fmt.Errorf("%s.%s: the card keeps the key that %v has made of the pass phrase, and not the phrase: type it again for %v", path, p.name, p.saved, u.Auth)
		case u.Auth == snap.AuthNone && p.saved == snap.AuthNone:
			return fmt.Errorf("%s.%s: without authentication there is no key to make of it: choose %s.auth first, or leave it empty", path, p.name, path)
		}
	}
	return nil
}
