package snap

import "slices"

// AuthProtocol is how a message of SNMPv3 is authenticated.
type AuthProtocol uint8

// Authentication protocols: RFC 3414 sections 6 and 7, then RFC 7860.
const (
	AuthNone AuthProtocol = iota
	AuthMD5
	AuthSHA1
	AuthSHA224
	AuthSHA256
	AuthSHA384
	AuthSHA512
)

var authNames = []string{"none", "md5", "sha-1", "sha-224", "sha-256", "sha-384", "sha-512"}

// String is the name of p; scenarios use it.
func (p AuthProtocol) String() string { return nameOf(authNames, int(p)) }

// AuthByName is the protocol with that name.
func AuthByName(name string) (AuthProtocol, bool) {
	i := slices.Index(authNames, name)
	return AuthProtocol(max(i, 0)), i >= 0
}

// PrivProtocol is how a message of SNMPv3 is encrypted.
type PrivProtocol uint8

// Privacy protocols: RFC 3414 section 8, RFC 3826, and the two customary ways
// of making longer AES keys from a digest that is too short, after their
// authors. They differ only where the digest is shorter than the key.
const (
	PrivNone PrivProtocol = iota
	PrivDES
	PrivAES128
	PrivAES192Blumenthal
	PrivAES256Blumenthal
	PrivAES192Reeder
	PrivAES256Reeder
)

var privNames = []string{"none", "des", "aes-128", "aes-192-blumenthal", "aes-256-blumenthal", "aes-192-reeder", "aes-256-reeder"}

// String is the name of p; scenarios use it.
func (p PrivProtocol) String() string { return nameOf(privNames, int(p)) }

// PrivByName is the protocol with that name.
func PrivByName(name string) (PrivProtocol, bool) {
	i := slices.Index(privNames, name)
	return PrivProtocol(max(i, 0)), i >= 0
}

// SecurityLevel is how well a message is protected (RFC 3411 section 3.4.3).
// A greater one protects more.
type SecurityLevel uint8

// Security levels.
const (
	NoAuthNoPriv SecurityLevel = iota
	AuthNoPriv
	AuthPriv
)

var levelNames = []string{"noAuthNoPriv", "authNoPriv", "authPriv"}

// String is the standard's word for l; scenarios use it.
func (l SecurityLevel) String() string { return nameOf(levelNames, int(l)) }

// LevelByName is the level with that name.
func LevelByName(name string) (SecurityLevel, bool) {
	i := slices.Index(levelNames, name)
	return SecurityLevel(max(i, 0)), i >= 0
}

// Secret is a pass phrase, or the key that was made of one. However it is printed or
// encoded, it does not show.
type Secret struct {
	text    *string
	standIn bool
	key     bool
}

// NewSecret hides text; "" is nothing to hide, the zero value.
func NewSecret(text string) Secret {
	if text == "" {
		return Secret{}
	}
	return Secret{text: &text}
}

// StandIn is a word in the place of a secret, or one that everybody may know. It
// is written as it is.
func StandIn(word string) Secret { return Secret{text: &word, standIn: true} }

// NewKey hides a key that [Master] has made: the phrase itself is not known.
func NewKey(key []byte) Secret {
	text := string(key)
	return Secret{text: &text, key: true}
}

// Key is the key, nil if s is a phrase.
func (s Secret) Key() []byte {
	if !s.key {
		return nil
	}
	return []byte(*s.text)
}

// Reveal is the text, "" for the zero value.
func (s Secret) Reveal() string {
	if s.text == nil {
		return ""
	}
	return *s.text
}

// String is never the text.
func (s Secret) String() string { return "(secret)" }

// GoString is never the text.
func (s Secret) GoString() string { return s.String() }

// Empty says whether there is nothing to hide.
func (s Secret) Empty() bool { return s.Reveal() == "" }

// Same says whether both are the same. It is no check of what somebody typed: see
// there for one in constant time.
func (s Secret) Same(t Secret) bool { return s.Reveal() == t.Reveal() }

// Equal is [Secret.Same], for tests that compare.
func (s Secret) Equal(t Secret) bool { return s.Same(t) }

// MarshalText is never the text: it tells only whether there is one.
func (s Secret) MarshalText() ([]byte, error) {
	if s.Empty() || s.standIn {
		return []byte(s.Reveal()), nil
	}
	return []byte(s.String()), nil
}

// UnmarshalText takes text for the secret. Of one that was hidden it is what stands
// in its place: nobody signs in with what was replayed.
func (s *Secret) UnmarshalText(text []byte) error {
	*s = Secret{}
	if len(text) > 0 {
		*s = StandIn(string(text))
	}
	return nil
}

// Subtree is a branch of the tree of object identifiers that a view takes in
// or leaves out.
type Subtree struct {
	OID      []uint32
	Included bool
}

// View is a part of the tree. Of the subtrees that an object lies in the
// longest counts (RFC 3415 vacmViewTreeFamilyTable, without masks); an object in
// none is outside. A nil view is empty.
type View struct {
	Name     string
	Subtrees []Subtree
}

// Holds says whether v holds the object oid with arcs behind it.
func (v *View) Holds(oid []uint32, arcs ...uint32) bool {
	if v == nil {
		return false
	}
	longest, included := -1, false
	for i := range v.Subtrees {
		if s := &v.Subtrees[i]; len(s.OID) > longest && under(s.OID, oid, arcs) {
			longest, included = len(s.OID), s.Included
		}
	}
	return included
}

// under says whether oid with arcs behind it lies in the subtree.
func under(subtree, oid, arcs []uint32) bool {
	n := min(len(subtree), len(oid))
	rest := subtree[n:]
	return slices.Equal(subtree[:n], oid[:n]) && len(rest) <= len(arcs) && slices.Equal(rest, arcs[:len(rest)])
}

// Views are what somebody may read, write and be notified of. A nil view means
// no right at all, which is told apart from an object outside of a view.
type Views struct {
	Read, Write, Notify *View
}

// User is a user of SNMPv3.
type User struct {
	Name         string // 1 to 32 octets
	Auth         AuthProtocol
	Priv         PrivProtocol
	AuthPassword Secret        // at least 8 octets, unless Auth is AuthNone
	PrivPassword Secret        // likewise for Priv
	Level        SecurityLevel // at least this is asked of requests
	Views        Views
}

// Highest is the best level that the user's protocols allow.
func (u *User) Highest() SecurityLevel {
	switch {
	case u.Auth == AuthNone:
		return NoAuthNoPriv
	case u.Priv == PrivNone:
		return AuthNoPriv
	}
	return AuthPriv
}

// Access is who may do what over SNMP. It never changes once it is in a
// [Card]: another one is put in its place.
type Access struct {
	V1, V2c, V3 bool  // versions that are answered and sent
	Reader      Views // of the read community: Write is not used
	Writer      Views // of the write community
	Users       []User

	// RealEngineTime lets snmpEngineTime count real seconds whatever the pace of
	// the simulation, for managers that keep to their own clock.
	RealEngineTime bool
	// ReportGarbled answers what decrypts to nonsense with a decryptionErrors
	// report. RFC 3414 calls for one only where decryption itself fails, which
	// AES cannot; a wrong privacy password is then a malformed message.
	ReportGarbled bool
}

// User is the user of that name, or nil.
func (a *Access) User(name []byte) *User {
	for i := range a.Users {
		if a.Users[i].Name == string(name) {
			return &a.Users[i]
		}
	}
	return nil
}

// everything holds every object.
var everything = &View{Name: "all", Subtrees: []Subtree{{OID: []uint32{1}, Included: true}}}

// Everything is the view that holds every object.
func Everything() *View { return everything }

// DefaultAccess is SNMPv1 and SNMPv2c with whole views, and nobody of SNMPv3:
// what a card has that was given nothing else.
func DefaultAccess() *Access { return &defaultAccess }

var defaultAccess = Access{
	V1: true, V2c: true,
	Reader: Views{Read: everything, Notify: everything},
	Writer: Views{Read: everything, Write: everything},
}
