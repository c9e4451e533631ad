package snap

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/binary"
	"fmt"
	"strings"
	"sync"

	"golang.org/x/crypto/argon2"

	"ridethrough/sim/internal/core/vtime"
)

// Cost of a verifier: Argon2id (RFC 9106), two passes over 8 MiB. It is moderate on
// purpose: a simulated card keeps no secret worth more, and many of them share one
// machine.
const (
	hashPasses = 2
	hashKiB    = 8 << 10
	hashSize   = 32
	saltSize   = 16
)

// HashScheme names how verifiers are made. One of another scheme opens nothing.
const HashScheme = "argon2id m=8192 t=2 p=1"

// hashing bounds the passwords that are hashed at once, and with them the memory.
var hashing = make(chan struct{}, 2)

// MaxAccounts bounds the accounts of one card.
const MaxAccounts = 16

// Account is who may sign in at the card itself. Verifier is made of the password
// and Salt.
type Account struct {
	User           string
	Role           Role
	Scheme         string `json:",omitempty"`
	Salt, Verifier []byte

	// Label says that the password is still the one on the factory label,
	// MustChange that the next sign-in has to begin with another one.
	Label, MustChange bool `json:",omitempty"`
	// Set is when the password was set, by the card's clock; 0: nobody knows.
	Set Stamp `json:",omitempty"`

	make func() []byte // instead of Verifier: makes it once
}

// NewAccount is an account whose verifier is made from password and salt when
// somebody first signs in. Making it takes longer than minutes of a simulated
// outage, and most runs have nobody at the door.
func NewAccount(user string, role Role, password string, salt []byte) Account {
	return Account{User: user, Role: role, Scheme: HashScheme, Salt: salt, make: sync.OnceValue(func() []byte { return verifier(password, salt) })}
}

// Check says whether password is the account's, in constant time.
func (a Account) Check(password string) bool {
	right := subtle.ConstantTimeCompare(verifier(password, a.Salt), a.made())
	return right == 1 && a.Scheme == HashScheme
}

// Made is a with its verifier in place, as it has to be kept.
func (a Account) Made() Account {
	a.Verifier, a.make = a.made(), nil
	return a
}

// Modelled is a with a password that nobody can type.
func (a Account) Modelled() Account {
	a.Scheme = "none"
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
	found := Account{Scheme: HashScheme, Salt: make([]byte, saltSize), Verifier: make([]byte, hashSize)}
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

// Account is the account of that user, nil if there is none.
func (c *Card) Account(user string) *Account {
	for i := range c.Accounts {
		if c.Accounts[i].User == user {
			return &c.Accounts[i]
		}
	}
	return nil
}

// NewSalt is one that no account of c had before: no secret, but another one for
// every card, user and time.
func (c *Card) NewSalt(user string, now vtime.Tick) []byte {
	h := sha256.New()
	h.Write(c.Factory.Salt)
	for _, n := range []uint64{uint64(now), uint64(c.Boots), c.Revision} {
		h.Write(binary.BigEndian.AppendUint64(nil, n))
	}
	for _, a := range c.Accounts {
		h.Write(a.Salt)
	}
	h.Write([]byte(user))
	return h.Sum(nil)[:saltSize]
}

// MaxPassword is the longest password, in characters.
const MaxPassword = 64

// PasswordFault says why password cannot become the one of user, "" if it can. It
// never repeats it.
func (c *Card) PasswordFault(user, password string) string {
	least := int(c.Settings.SignInRules().PasswordLeast)
	switch n := len([]rune(password)); {
	case n < least:
		return fmt.Sprintf("a password has at least %d characters", least)
	case n > MaxPassword:
		return fmt.Sprintf("a password has at most %d characters", MaxPassword)
	case strings.Contains(strings.ToLower(password), strings.ToLower(user)):
		return "a password does not have the user name in it"
	case c.Factory.Check(password):
		return "that is the password on the label: everybody who has seen the card may know it"
	}
	if a := c.Account(user); a != nil && a.Check(password) {
		return "that is the password as it was"
	}
	return ""
}

func verifier(password string, salt []byte) []byte {
	hashing <- struct{}{}
	defer func() { <-hashing }()
	return argon2.IDKey([]byte(password), salt, hashPasses, hashKiB, 1, hashSize)
}
