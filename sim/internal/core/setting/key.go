package setting

import (
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"strings"
)

// keyFields are the types of public keys that let in, and how many fields a key of
// each has after its type (RFC 8709, RFC 4253, RFC 5656).
var keyFields = map[string]int{
	"ssh-ed25519": 1, "ssh-rsa": 2, "ecdsa-sha2-nistp256": 2, "ecdsa-sha2-nistp384": 2, "ecdsa-sha2-nistp521": 2,
}

// leastRSA is the least modulus of an RSA key in bits (NIST SP 800-131A revision 2, table 2).
const leastRSA = 2048

// parseKey is the type and the key of a line in a list of authorised keys. The key
// itself begins with its type as well (RFC 4253 section 6.6).
func parseKey(line string) (string, error) {
	parts := strings.Fields(line)
	if len(line) > maxKeyLine+100 || len(parts) < 2 || keyFields[parts[0]] == 0 {
		return "", fmt.Errorf("that is no public key that is known here")
	}
	blob, err := base64.StdEncoding.DecodeString(parts[1])
	fields, whole := fieldsOf(blob)
	if err != nil || !whole || len(parts[1]) > maxKeyLine || len(fields) != 1+keyFields[parts[0]] || fields[0] != parts[0] {
		return "", fmt.Errorf("the key is damaged, or was not copied to its end (a terminal takes 256 characters; more go over ssh CARD set)")
	}
	if bits := 8 * len(strings.TrimLeft(fields[len(fields)-1], "\x00")); parts[0] == "ssh-rsa" && bits < leastRSA {
		return "", fmt.Errorf("an RSA key of about %d bits is too weak: at least %d", bits, leastRSA)
	}
	return parts[0] + " " + parts[1], nil
}

// fieldsOf takes a key apart into its fields, each behind its length; whole is false
// if it ends within one.
func fieldsOf(blob []byte) (fields []string, whole bool) {
	for len(blob) > 0 {
		if len(blob) < 4 || uint64(binary.BigEndian.Uint32(blob)) > uint64(len(blob)-4) {
			return nil, false
		}
		n := 4 + int(binary.BigEndian.Uint32(blob))
		fields, blob = append(fields, string(blob[4:n])), blob[n:]
	}
	return fields, true
}
