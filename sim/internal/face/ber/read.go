package ber

import (
	"errors"
	"math"
)

// Reasons for which bytes are refused.
var (
	ErrTruncated = errors.New("ber: ends within a value")
	ErrLength    = errors.New("ber: length is indefinite or reaches past its holder")
	ErrTag       = errors.New("ber: unexpected tag")
	ErrRange     = errors.New("ber: value is outside its type's range")
	ErrOID       = errors.New("ber: malformed object identifier")
	ErrTrailing  = errors.New("ber: bytes after the last element")
	ErrTooMany   = errors.New("ber: too many variable bindings")
	ErrVersion   = errors.New("ber: neither an SNMPv1 nor an SNMPv2c message")
)

// Reader takes encoded values off a slice, one after the other. What it returns
// aliases the slice. Its errors are the variables above, never wrapped.
type Reader struct{ rest []byte }

// NewReader reads b.
func NewReader(b []byte) Reader { return Reader{rest: b} }

// Empty says whether everything was read.
func (r *Reader) Empty() bool { return len(r.rest) == 0 }

// End is ErrTrailing unless everything was read.
func (r *Reader) End() error {
	if !r.Empty() {
		return ErrTrailing
	}
	return nil
}

// Next is the next value, whatever it is.
func (r *Reader) Next() (Tag, []byte, error) {
	if len(r.rest) < 2 {
		return 0, nil, ErrTruncated
	}
	tag := Tag(r.rest[0])
	if tag&0x1f == 0x1f { // a tag number of more octets, which SNMP never has
		return 0, nil, ErrTag
	}
	n, body := uint64(r.rest[1]), r.rest[2:]
	if n >= 0x80 {
		var size int
		var err error
		if n, size, err = readLength(r.rest[1:]); err != nil {
			return 0, nil, err
		}
		body = r.rest[1+size:]
	}
	if n > uint64(len(body)) {
		return 0, nil, ErrLength
	}
	r.rest = body[n:]
	return tag, body[:n:n], nil
}

// Expect is the content of the next value, which must have that tag.
func (r *Reader) Expect(tag Tag) ([]byte, error) {
	got, content, err := r.Next()
	if err == nil && got != tag {
		return nil, ErrTag
	}
	return content, err
}

// Int32 is the next value, which must be an INTEGER of 32 bits.
func (r *Reader) Int32() (int32, error) {
	content, err := r.Expect(Integer)
	if err != nil {
		return 0, err
	}
	v, err := readInt(content, 4)
	return int32(v), err
}

// readLength reads the length octets at the start of b, of which the first is
// 0x80 or more, and says how many they are.
func readLength(b []byte) (n uint64, size int, err error) {
	octets := int(b[0] & 0x7f)
	if octets == 0 || octets > 4 {
		return 0, 0, ErrLength
	}
	if len(b) < 1+octets {
		return 0, 0, ErrTruncated
	}
	for _, c := range b[1 : 1+octets] {
		n = n<<8 | uint64(c)
	}
	return n, 1 + octets, nil
}

// readInt reads two's complement of at most the given number of octets.
func readInt(content []byte, octets int) (int64, error) {
	if len(content) == 0 || len(content) > octets {
		return 0, ErrRange
	}
	v := int64(int8(content[0]))
	for _, c := range content[1:] {
		v = v<<8 | int64(c)
	}
	return v, nil
}

// readUint reads a number from 0 to 2^(8 octets)-1: two's complement with room
// for one more octet, which is then 0.
func readUint(content []byte, octets int) (uint64, error) {
	if len(content) == 0 || content[0] >= 0x80 {
		return 0, ErrRange
	}
	if len(content) == octets+1 && content[0] == 0 {
		content = content[1:]
	}
	if len(content) > octets {
		return 0, ErrRange
	}
	v := uint64(0)
	for _, c := range content {
		v = v<<8 | uint64(c)
	}
	return v, nil
}

// appendArcs appends the arcs of an encoded object identifier to dst.
func appendArcs(dst []uint32, content []byte) ([]uint32, error) {
	if len(content) == 0 || content[len(content)-1] >= 0x80 {
		return dst, ErrOID
	}
	start, arc, fresh := len(dst), uint64(0), true
	for _, c := range content {
		if fresh && c == 0x80 { // padding, which X.690 8.19.2 forbids
			return dst, ErrOID
		}
		arc = arc<<7 | uint64(c&0x7f)
		if arc > math.MaxUint32+80 {
			return dst, ErrOID
		}
		if fresh = c < 0x80; !fresh {
			continue
		}
		if len(dst) == start {
			top := min(arc/40, 2) // the first octets hold two arcs
			dst = append(dst, uint32(top))
			arc -= 40 * top
		}
		if arc > math.MaxUint32 || len(dst)-start == MaxArcs {
			return dst, ErrOID
		}
		dst, arc = append(dst, uint32(arc)), 0
	}
	return dst, nil
}
