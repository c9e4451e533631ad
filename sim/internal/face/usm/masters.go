package usm

import (
	"crypto/sha256"
	"sync"

	"ridethrough/sim/internal/core/snap"
)

// Masters remembers the masters of passwords: making one costs milliseconds,
// localising it a microsecond, so that cards which share passwords should share
// this. Its zero value is ready; it is safe for concurrent use. It keeps no
// password.
type Masters struct {
	mu   sync.Mutex
	keys map[masterID][]byte
}

type masterID struct {
	auth snap.AuthProtocol
	sum  [sha256.Size]byte // of the password
}

// For is the user's key for an engine.
func (m *Masters) For(user *snap.User, engineID string) *Key {
	return NewKey(user, m.of(user.Auth, user.AuthPassword), m.of(user.Auth, user.PrivPassword), engineID)
}

func (m *Masters) of(auth snap.AuthProtocol, password snap.Secret) []byte {
	if key := password.Key(); key != nil {
		return key
	}
	text := password.Reveal()
	if auth == snap.AuthNone || text == "" {
		return nil
	}
	id := masterID{auth, sha256.Sum256([]byte(text))}
	m.mu.Lock()
	defer m.mu.Unlock()
	key, ok := m.keys[id]
	if !ok {
		key = snap.Master(auth, text)
		if m.keys == nil {
			m.keys = map[masterID][]byte{}
		}
		m.keys[id] = key
	}
	return key
}
