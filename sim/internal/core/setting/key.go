package setting

import (
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"slices"
	"strings"
)

// keyTypes are the types of public keys that let in (RFC 8709, RFC 4253, RFC 5656).
var keyTypes = []string{"ssh-ed25519", "ssh-rsa", "ecdsa-sha2-nistp256", "ecdsa-sha2-nistp384", "ecdsa-sha2-nistp521"}

// parseKey is the type and the key of a line in a list of authorised keys. The key
// itself begins with its type as well (RFC 4253 section 6.6).
func parseKey(line string) (string, error) {
	parts := strings.Fields(line)
	if len(line) > maxKeyLine+100 || len(parts) < 2 || !slices.Contains(keyTypes, parts[0]) {
		return "", fmt.Errorf("that is no public key that is known here")
	}
	blob, err := base64.StdEncoding.DecodeString(parts[1])
	if err != nil || len(parts[1]) > maxKeyLine || len(blob) < 4+len(parts[0]) ||
		int(binary.BigEndian.Uint32(blob)) != len(parts[0]) || string(blob[4:4+len(parts[0])]) != parts[0] {
		return "", fmt.Errorf("the key is damaged: was all of the line copied?")
	}
	return parts[0] + " " + parts[1], nil
}
