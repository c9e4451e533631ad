package setting

import (
	"encoding/base64"
	"encoding/binary"
	"strings"
	"testing"
)

// goodKey is a public key that was made for this test; nobody has kept its private half.
const goodKey = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIJQwbN2pTQ6tCAQJ2ZK3yH0o0xkAJ8cGqRPyuZb2nQ0m"

// rsaKey is an RSA key with a modulus of so many bits, of which nobody has the factors.
func rsaKey(bits int) string {
	var blob []byte
	for _, field := range []string{"ssh-rsa", "\x01\x00\x01", "\x00" + strings.Repeat("\xc5", bits/8)} {
		blob = append(binary.BigEndian.AppendUint32(blob, uint32(len(field))), field...)
	}
	return "ssh-rsa " + base64.StdEncoding.EncodeToString(blob)
}

func TestParseKey(t *testing.T) {
	weak, strong := rsaKey(1024), rsaKey(2048)
	for line, want := range map[string]string{
		weak:                                   "",
		strong:                                 strong,
		goodKey:                                goodKey,
		"  " + goodKey + "  anna@example  ":    goodKey,
		"":                                     "",
		"ssh-ed25519":                          "",
		"ssh-dss AAAAB3NzaC1kc3MAAACB":         "", // too weak to be let in
		strings.Replace(goodKey, "ed", "e", 1): "",
		goodKey[:40]:                           "", // cut off inside the length of the type
		strings.Replace(goodKey, "ssh-ed25519", "ssh-rsa", 1): "", // says another type than it is
		goodKey + strings.Repeat(" x", maxKeyLine):            "",
		"command=\"x\" " + goodKey:                            "", // options are for servers that have a shell
	} {
		if got, err := parseKey(line); got != want || (err == nil) != (want != "") {
			t.Errorf("%q: %q, %v", line, got, err)
		}
	}
}

// FuzzParseKey: what is taken is taken again as it is, and is bounded.
func FuzzParseKey(f *testing.F) {
	f.Add(goodKey)
	f.Add("ssh-rsa AAAAB3NzaC1yc2EAAAADAQABAAAAgQ== me")
	f.Fuzz(func(t *testing.T, line string) {
		got, err := parseKey(line)
		if err != nil {
			return
		}
		if again, err := parseKey(got); err != nil || again != got || len(got) > maxKeyLine+32 {
			t.Errorf("%q: %q, then %q, %v", line, got, again, err)
		}
	})
}
