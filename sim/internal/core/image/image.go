package image

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
)

// Sizes in octets. The head is the mark and the two lengths.
const (
	mark           = "RT-IMAGE"
	format         = 1
	head           = len(mark) + 4 + 4 + 4
	maxDescription = 64 << 10
	MaxSize        = 4 << 20 // of a whole image
)

// Image is an image that was read and found to be genuine and whole.
type Image struct {
	Release *snap.Release
	Digest  string // SHA-256 of all its octets, hexadecimal
}

// ErrTruncated is what an image of which a part is missing comes to; see
// [Truncated] for how much was there.
var ErrTruncated = errors.New("the image is not whole")

// Key is the key that signs the images of a scenario with that seed. Whoever has
// the scenario has the key: it proves nothing about the real world.
func Key(seed uint64) ed25519.PrivateKey {
	key := rng.Key(seed, "maker of the card's firmware")
	return ed25519.NewKeyFromSeed(key[:])
}

// Public is the public part of [Key] in the form in which cards hold it.
func Public(seed uint64) string { return string(Key(seed).Public().(ed25519.PublicKey)) }

// Make is the image of r with that many octets of code, signed with key. The octets
// of the code mean nothing; they differ from one version to the next.
func Make(r *snap.Release, code int, key ed25519.PrivateKey) ([]byte, error) {
	if err := Check(r); err != nil {
		return nil, err
	}
	description, err := json.Marshal(r)
	if err != nil {
		return nil, err
	}
	size := head + len(description) + code + ed25519.SignatureSize
	if len(description) > maxDescription || code < 0 || size > MaxSize {
		return nil, fmt.Errorf("an image of %d octets, %d of them its description: at most %d and %d", size, len(description), MaxSize, maxDescription)
	}
	b := make([]byte, 0, size)
	b = append(b, mark...)
	b = binary.BigEndian.AppendUint32(b, format)
	b = binary.BigEndian.AppendUint32(b, uint32(len(description)))
	b = binary.BigEndian.AppendUint32(b, uint32(code))
	b = append(b, description...)
	b = appendCode(b, r.Version, code)
	return append(b, ed25519.Sign(key, b)...), nil
}

// appendCode fills up with digests of the version and a number.
func appendCode(b []byte, version string, code int) []byte {
	end := len(b) + code
	for n := 0; len(b) < end; n++ {
		d := sha256.Sum256(fmt.Appendf(nil, "%s/%d", version, n))
		b = append(b, d[:min(len(d), end-len(b))]...)
	}
	return b
}

// Read checks b against the public key of the maker and the model of the card that
// is to take it. Every error is a line for a person.
func Read(b []byte, public, model string) (*Image, error) {
	sizes, err := measure(b)
	if err != nil {
		return nil, err
	}
	signed, signature := b[:sizes.whole-ed25519.SignatureSize], b[sizes.whole-ed25519.SignatureSize:]
	if len(public) != ed25519.PublicKeySize || !ed25519.Verify(ed25519.PublicKey(public), signed, signature) {
		return nil, errors.New("the signature is not that of the card's maker")
	}
	r, err := describe(b[head : head+sizes.description])
	if err != nil {
		return nil, err
	}
	if r.Model != model {
		return nil, fmt.Errorf("the image is for the model %q, this card is %q", r.Model, model)
	}
	digest := sha256.Sum256(b)
	return &Image{Release: r, Digest: hex.EncodeToString(digest[:])}, nil
}

type sizes struct{ description, whole int }

// measure says how long the image is, and that b is as long.
func measure(b []byte) (sizes, error) {
	switch {
	case len(b) == 0:
		return sizes{}, errors.New("there is no image: nothing arrived")
	case len(b) > MaxSize:
		return sizes{}, fmt.Errorf("more than %d octets: no image has so many", MaxSize)
	case !bytes.HasPrefix(b, []byte(mark)[:min(len(mark), len(b))]):
		return sizes{}, errors.New("this is no image: it does not begin with " + mark)
	case len(b) < head:
		return sizes{}, fmt.Errorf("%w: it ends within its first %d octets", ErrTruncated, head)
	}
	number := func(i int) uint64 { return uint64(binary.BigEndian.Uint32(b[len(mark)+4*i:])) }
	description, code := number(1), number(2)
	whole := uint64(head) + description + code + ed25519.SignatureSize
	switch got := uint64(len(b)); {
	case number(0) != format:
		return sizes{}, fmt.Errorf("its format is %d, this card reads format %d", number(0), format)
	case description > maxDescription || whole > MaxSize:
		return sizes{}, fmt.Errorf("it claims %d octets, at most %d", whole, MaxSize)
	case got < whole:
		return sizes{}, fmt.Errorf("%w: %d of %d octets arrived, %d %%", ErrTruncated, got, whole, (got*100+whole/2)/whole)
	case got > whole:
		return sizes{}, fmt.Errorf("%d octets follow the end of the image", got-whole)
	}
	return sizes{int(description), int(whole)}, nil
}

// describe reads a description.
func describe(text []byte) (*snap.Release, error) {
	r := new(snap.Release)
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(r); err != nil {
		return nil, errors.New("its description cannot be read: " + err.Error())
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, errors.New("its description cannot be read: something follows it")
	}
	return r, Check(r)
}
