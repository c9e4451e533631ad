package ber

// Open appends the head of a value of the given tag whose content will follow.
// The mark that it returns is for [Close].
func Open(dst []byte, tag Tag) ([]byte, int) {
	dst = append(dst, byte(tag), 0)
	return dst, len(dst)
}

// Close ends the value that was opened at mark: everything appended since is its
// content. Marks taken inside it are void afterwards.
func Close(dst []byte, mark int) []byte {
	n := len(dst) - mark
	if n < 0x80 {
		dst[mark-1] = byte(n)
		return dst
	}
	octets := 1
	for n>>(8*octets) > 0 {
		octets++
	}
	for range octets {
		dst = append(dst, 0)
	}
	copy(dst[mark+octets:], dst[mark:mark+n])
	dst[mark-1] = 0x80 | byte(octets)
	putBigEndian(dst[mark:mark+octets], uint64(n))
	return dst
}

// AppendInt appends v in the fewest octets. It serves INTEGER, and with a v that
// is not negative Counter32, Gauge32 and TimeTicks.
func AppendInt(dst []byte, tag Tag, v int64) []byte {
	if v == int64(int8(v)) {
		return append(dst, byte(tag), 1, byte(v))
	}
	octets := 1
	for top := v >> 7; top != 0 && top != -1; top >>= 8 {
		octets++
	}
	dst = append(dst, byte(tag), byte(octets))
	for shift := 8 * (octets - 1); shift >= 0; shift -= 8 {
		dst = append(dst, byte(v>>shift))
	}
	return dst
}

// AppendUint64 appends v as a non-negative integer: Counter64.
func AppendUint64(dst []byte, tag Tag, v uint64) []byte {
	if v < 1<<63 {
		return AppendInt(dst, tag, int64(v))
	}
	dst = append(dst, byte(tag), 9, 0, 0, 0, 0, 0, 0, 0, 0, 0)
	putBigEndian(dst[len(dst)-8:], v)
	return dst
}

// AppendString appends s as it is: OCTET STRING, IpAddress, Opaque.
func AppendString[T ~string | ~[]byte](dst []byte, tag Tag, s T) []byte {
	dst, mark := Open(dst, tag)
	dst = append(dst, s...)
	return Close(dst, mark)
}

// AppendEmpty appends a value without content: NULL and the exceptions.
func AppendEmpty(dst []byte, tag Tag) []byte { return append(dst, byte(tag), 0) }

// AppendOID appends the identifier made of oid and the arcs behind it. One that
// is too short to be encoded is written as 0.0 (RFC 3417 section 8: zeroDotZero).
func AppendOID(dst []byte, oid OID, arcs ...uint32) []byte {
	dst, mark := Open(dst, ObjectID)
	if len(oid) < 2 {
		dst = append(dst, 0)
	} else {
		dst = appendArc(dst, uint64(oid[0])*40+uint64(oid[1]))
		for _, arc := range oid[2:] {
			dst = appendArc(dst, uint64(arc))
		}
		for _, arc := range arcs {
			dst = appendArc(dst, uint64(arc))
		}
	}
	return Close(dst, mark)
}

// Head is the content of an encoded identifier, for [AppendChild].
func Head(oid OID) []byte {
	r := NewReader(AppendOID(nil, oid))
	_, content, _ := r.Next() // it was encoded here
	return content
}

// AppendChild appends the identifier whose content begins with head and ends with
// one more arc.
func AppendChild(dst []byte, head []byte, arc uint32) []byte {
	dst, mark := Open(dst, ObjectID)
	return Close(appendArc(append(dst, head...), uint64(arc)), mark)
}

func appendArc(dst []byte, arc uint64) []byte {
	if arc < 0x80 {
		return append(dst, byte(arc))
	}
	shift := 0
	for arc>>(shift+7) > 0 {
		shift += 7
	}
	for ; shift > 0; shift -= 7 {
		dst = append(dst, byte(arc>>shift)|0x80)
	}
	return append(dst, byte(arc)&0x7f)
}

func putBigEndian(dst []byte, v uint64) {
	for i := len(dst) - 1; i >= 0; i-- {
		dst[i] = byte(v)
		v >>= 8
	}
}
