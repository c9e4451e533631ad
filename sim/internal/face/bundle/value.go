package bundle

import (
	"encoding/hex"
	"errors"
	"fmt"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"ridethrough/sim/internal/face/ber"
)

// words are the types of values as bundles write them.
var words = []struct {
	tag  ber.Tag
	word string
}{
	{ber.Integer, "integer"}, {ber.OctetString, "string"}, {ber.ObjectID, "oid"}, {ber.IPAddress, "address"},
	{ber.Counter32, "counter"}, {ber.Gauge32, "gauge"}, {ber.TimeTicks, "ticks"}, {ber.Opaque, "opaque"},
	{ber.Counter64, "counter64"}, {ber.Null, "null"},
}

// octets is the word for a string that is no plain text.
const octets = "octets"

// textOf is v as bundles write it: its type, a colon and what it is.
func textOf(v ber.Value) string {
	word := ""
	for _, w := range words {
		if w.tag == v.Tag {
			word = w.word
		}
	}
	switch v.Tag {
	case ber.OctetString:
		if !plain(v.Bytes) {
			return octets + ":" + hex.EncodeToString(v.Bytes)
		}
		return word + ":" + string(v.Bytes)
	case ber.Opaque:
		return word + ":" + hex.EncodeToString(v.Bytes)
	case ber.IPAddress:
		a, _ := netip.AddrFromSlice(v.Bytes)
		return word + ":" + a.String()
	case ber.ObjectID:
		return word + ":" + v.OID.String()
	case ber.Null:
		return word + ":"
	case ber.Counter64:
		return word + ":" + strconv.FormatUint(uint64(v.Int), 10)
	}
	return word + ":" + strconv.FormatInt(v.Int, 10)
}

// plain says whether b can stand in JSON as it is.
func plain(b []byte) bool {
	return utf8.Valid(b) && !slices.ContainsFunc([]rune(string(b)), func(r rune) bool { return r < ' ' || r == 0x7f || r == utf8.RuneError })
}

// parseValue reads what textOf writes.
func parseValue(text string) (v ber.Value, err error) {
	word, rest, ok := strings.Cut(text, ":")
	if !ok {
		return v, fmt.Errorf("value %q: expected a type, a colon and the value", text)
	}
	if word == octets {
		v.Tag = ber.OctetString
		v.Bytes, err = hex.DecodeString(rest)
		return v, wrong(text, err)
	}
	at := slices.IndexFunc(words, func(w struct {
		tag  ber.Tag
		word string
	}) bool {
		return w.word == word
	})
	if at < 0 {
		return v, fmt.Errorf("value %q: there is no type %q", text, word)
	}
	v.Tag = words[at].tag
	return v, wrong(text, fill(&v, rest))
}

func wrong(text string, err error) error {
	if err != nil {
		return fmt.Errorf("value %q is not of its type", text)
	}
	return nil
}

// fill puts what text says into v, whose type is known.
func fill(v *ber.Value, text string) (err error) {
	switch v.Tag {
	case ber.OctetString:
		v.Bytes = []byte(text)
	case ber.Opaque:
		v.Bytes, err = hex.DecodeString(text)
	case ber.ObjectID:
		v.OID, err = ber.ParseOID(text)
	case ber.IPAddress:
		var a netip.Addr
		if a, err = netip.ParseAddr(text); err == nil && !a.Is4() {
			return errNotIPv4
		}
		v.Bytes = a.AsSlice()
	case ber.Integer:
		v.Int, err = strconv.ParseInt(text, 10, 32)
	case ber.Null:
		if text != "" {
			return errNotEmpty
		}
	case ber.Counter64:
		var n uint64
		n, err = strconv.ParseUint(text, 10, 64)
		v.Int = int64(n)
	default:
		var n uint64
		n, err = strconv.ParseUint(text, 10, 32)
		v.Int = int64(n)
	}
	return err
}

var (
	errNotIPv4  = errors.New("no IPv4 address")
	errNotEmpty = errors.New("null has no value")
)

// Same says whether two values are the same.
func Same(a, b ber.Value) bool {
	return a.Tag == b.Tag && a.Int == b.Int && slices.Equal(a.Bytes, b.Bytes) && a.OID.Equal(b.OID)
}

// Append appends v as SNMP encodes it.
func Append(out []byte, v ber.Value) []byte {
	switch v.Tag {
	case ber.OctetString, ber.Opaque, ber.IPAddress:
		return ber.AppendString(out, v.Tag, v.Bytes)
	case ber.ObjectID:
		return ber.AppendOID(out, v.OID)
	case ber.Null:
		return ber.AppendEmpty(out, ber.Null)
	case ber.Counter64:
		return ber.AppendUint64(out, v.Tag, uint64(v.Int))
	}
	return ber.AppendInt(out, v.Tag, v.Int)
}
