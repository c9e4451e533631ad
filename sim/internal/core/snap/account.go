package snap

import (
	"crypto/pbkdf2"
	"crypto/sha256"
	"crypto/subtle"
	"sync"
)

// verifierRounds is low on purpose: a simulated card keeps no secret worth
// more, and a fleet starts thousands of them.
const verifierRounds = 1000

// NewAccount is an account whose verifier is made from password and salt when
// somebody first signs in. Making it takes longer than minutes of a simulated
// outage, and most runs have nobody at the door.
func NewAccount(user, password string, salt []byte) Account {
	return Account{User: user, Salt: salt, make: sync.OnceValue(func() []byte { return verifier(password, salt) })}
}

// Check says whether password is the account's, in constant time.
func (a Account) Check(password string) bool {
	return subtle.ConstantTimeCompare(verifier(password, a.Salt), a.made()) == 1
}

// Made is a with its verifier in place, as it has to be kept.
func (a Account) Made() Account {
	a.Verifier, a.make = a.made(), nil
	return a
}

// made is the verifier.
func (a Account) made() []byte {
	if a.Verifier == nil && a.make != nil {
		return a.make()
	}
	return a.Verifier
}

// SignIn says whether user and password open one of the card's accounts. It
// takes the same time for an unknown user as for a wrong password.
func (c *Card) SignIn(user, password string) bool {
	found := Account{Salt: []byte("no such user"), Verifier: make([]byte, sha256.Size)}
	known := 0
	for _, a := range c.Accounts {
		a.Verifier = a.made() // of all, whoever asks: the time it takes tells nobody a name
		if subtle.ConstantTimeCompare([]byte(a.User), []byte(user)) == 1 {
			found, known = a, 1
		}
	}
	right := found.Check(password)
	return known == 1 && right
}

func verifier(password string, salt []byte) []byte {
	key, err := pbkdf2.Key(sha256.New, password, salt, verifierRounds, sha256.Size)
	if err != nil {
		panic("snap: pbkdf2: " + err.Error()) // only for key lengths that we never ask for
	}
	return key
}
