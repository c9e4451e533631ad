package snmp

import (
	"sync"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/usm"
)

// keyring has the keys of the card's users with the card's own engine. Each is
// made when it is first needed. It is good for one access and one name of the
// engine.
type keyring struct {
	access *snap.Access
	name   string
	engine []byte // snmpEngineID
	users  []lazyKey
}

type lazyKey struct {
	once sync.Once
	key  *usm.Key
}

// keys is the keyring for the card as it is.
func (a *Agent) keys(c *snap.Card) *keyring {
	access, name := accessOf(c), model.EngineName(c)
	if r := a.ring.Load(); r != nil && r.access == access && r.name == name {
		return r
	}
	r := &keyring{
		access: access, name: name,
		engine: []byte(usm.EngineID(name)), users: make([]lazyKey, len(access.Users)),
	}
	a.ring.Store(r)
	return r
}

// find is the user of that name and its key; nil if there is none.
func (r *keyring) find(name []byte, masters *usm.Masters) (*snap.User, *usm.Key) {
	for i := range r.access.Users {
		if u := &r.access.Users[i]; u.Name == string(name) {
			k := &r.users[i]
			k.once.Do(func() { k.key = masters.For(u, string(r.engine)) })
			return u, k.key
		}
	}
	return nil, nil
}

// accessOf is the access in force.
func accessOf(c *snap.Card) *snap.Access {
	if c.Access == nil {
		return snap.DefaultAccess()
	}
	return c.Access
}
