package image

import (
	"crypto/ed25519"
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
)

// Code is how many octets of code an image has unless told otherwise.
const Code = 64 << 10

// Faults are the ways in which [Spoiled] makes an image wrong.
func Faults() []string {
	return []string{"wrong-signature", "garbled", "truncated", "other-model", "fails-test"}
}

// cutAt is how much of a truncated image there is, in percent.
const cutAt = 61

// Spoiled is an image of r that is wrong in one way: signed by somebody else
// (wrong-signature), changed after it was signed (garbled), cut off (truncated), for
// another model (other-model), or one that does not pass its own test (fails-test).
// "" is a good one.
func Spoiled(fault string, r *snap.Release, code int, key ed25519.PrivateKey) ([]byte, error) {
	other := *r
	switch fault {
	case "wrong-signature":
		seed := rng.Key(0, "somebody else")
		key = ed25519.NewKeyFromSeed(seed[:])
	case "other-model":
		other.Model = "Other " + r.Model[:min(len(r.Model), maxModel-6)]
	case "fails-test":
		other.FailTest = true
	case "", "garbled", "truncated":
	default:
		return nil, fmt.Errorf("there is no fault %q: expected one of %s", fault, strings.Join(Faults(), ", "))
	}
	b, err := Make(&other, code, key)
	switch {
	case err != nil:
		return nil, err
	case fault == "garbled":
		b[len(b)-ed25519.SignatureSize-1] ^= 1
	case fault == "truncated":
		b = b[:len(b)*cutAt/100]
	}
	return b, nil
}
