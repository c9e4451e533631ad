package bundle

import (
	"fmt"
	"net/netip"
	"regexp"
	"slices"
	"strings"

	"ridethrough/sim/internal/face/ber"
)

// harmless are objects whose text says what kind of thing it is, not whose: makers,
// models, versions, units, dates.
var harmless = []ber.OID{
	named("1.3.6.1.2.1.33.1.1.1"),      // upsIdentManufacturer
	named("1.3.6.1.2.1.33.1.1.2"),      // upsIdentModel
	named("1.3.6.1.2.1.33.1.1.3"),      // upsIdentUPSSoftwareVersion
	named("1.3.6.1.2.1.33.1.1.4"),      // upsIdentAgentSoftwareVersion
	named("1.3.6.1.2.1.33.1.7.4"),      // upsTestResultsDetail
	named("1.3.6.1.2.1.1.9.1.3"),       // sysORDescr
	named("1.3.6.1.2.1.2.2.1.2"),       // ifDescr
	named("1.3.6.1.2.1.47.1.1.1.1.2"),  // entPhysicalDescr
	named("1.3.6.1.2.1.47.1.1.1.1.8"),  // entPhysicalHardwareRev
	named("1.3.6.1.2.1.47.1.1.1.1.9"),  // entPhysicalFirmwareRev
	named("1.3.6.1.2.1.47.1.1.1.1.10"), // entPhysicalSoftwareRev
	named("1.3.6.1.2.1.47.1.1.1.1.12"), // entPhysicalMfgName
	named("1.3.6.1.2.1.47.1.1.1.1.13"), // entPhysicalModelName
	named("1.3.6.1.2.1.47.1.1.1.1.17"), // entPhysicalMfgDate
	named("1.3.6.1.2.1.99.1.1.1.6"),    // entPhySensorUnitsDisplay
	named("1.3.6.1.2.1.25.1.2"),        // hrSystemDate
}

// pseudonymOf are objects whose pseudonyms have a word of their own.
var pseudonymOf = []struct {
	under ber.OID
	word  string
}{
	{named("1.3.6.1.2.1.1.1"), "description"}, {named("1.3.6.1.2.1.1.4"), "contact"}, {named("1.3.6.1.2.1.1.5"), "name"},
	{named("1.3.6.1.2.1.1.6"), "location"}, {named("1.3.6.1.2.1.33.1.1.5"), "name"}, {named("1.3.6.1.2.1.33.1.1.6"), "loads"},
	{named("1.3.6.1.2.1.47.1.1.1.1.11"), "serial"}, {named("1.3.6.1.2.1.47.1.1.1.1.19"), "uuid"},
}

var (
	physAddress = named("1.3.6.1.2.1.2.2.1.6")
	engineID    = named("1.3.6.1.6.3.10.2.1.1")
)

// telling finds addresses, of networks, machines and people, within a text.
var telling = regexp.MustCompile(`\d{1,3}(\.\d{1,3}){3}|([0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}|[0-9A-Fa-f]{1,4}(:[0-9A-Fa-f]{0,4}){3,}|\S@\S`)

// leastTelling is how long a text must be so that it is looked for in others.
const leastTelling = 4

// Scrubber gives everything that says whose card it is a pseudonym, the same for the
// same thing. The zero value is ready. It is not safe for concurrent use.
type Scrubber struct {
	known  map[string]string // by kind and text
	counts map[string]int
	told   []string // texts that have a pseudonym
}

// Hide has text count as telling from the beginning, such as a community.
func (s *Scrubber) Hide(text string) {
	if len(text) >= leastTelling && !slices.Contains(s.told, text) {
		s.told = append(s.told, text)
	}
}

// Objects is a copy of objects with pseudonyms.
func (s *Scrubber) Objects(objects []Object) []Object {
	out := slices.Clone(objects)
	for i := range out {
		if !under(harmless, out[i].Name) {
			out[i].Value = s.value(out[i].Name, out[i].Value)
		}
	}
	for i := range out { // what is telling was learnt above
		if under(harmless, out[i].Name) {
			out[i].Value = s.looked(out[i].Value)
		}
	}
	return out
}

// Notice is n with pseudonyms.
func (s *Scrubber) Notice(n Notice) Notice {
	n.Objects = s.Objects(n.Objects)
	if n.Peer != "" {
		n.Peer = s.pseudonym("peer", n.Peer)
	}
	return n
}

func under(list []ber.OID, name ber.OID) bool { return slices.ContainsFunc(list, name.HasPrefix) }

// looked is the text of a harmless object, unless there is something telling in it.
func (s *Scrubber) looked(v ber.Value) ber.Value {
	if v.Tag != ber.OctetString {
		return v
	}
	text := string(v.Bytes)
	inIt := func(told string) bool { return strings.Contains(text, told) }
	if telling.MatchString(text) || slices.ContainsFunc(s.told, inIt) {
		v.Bytes = []byte(s.pseudonym("text", text))
	}
	return v
}

func (s *Scrubber) value(name ber.OID, v ber.Value) ber.Value {
	switch {
	case v.Tag == ber.IPAddress:
		v.Bytes = s.address(v.Bytes)
	case v.Tag != ber.OctetString && v.Tag != ber.Opaque, len(v.Bytes) == 0:
	case name.HasPrefix(physAddress):
		v.Bytes = s.numbered("hardware address", v.Bytes, []byte{2, 0, 0, 0}, 6)
	case name.HasPrefix(engineID):
		v.Bytes = s.numbered("engine", v.Bytes, []byte{0x80, 0, 0x7e, 0xd9, 5}, 9)
	case v.Tag == ber.Opaque:
		v.Bytes = s.numbered("opaque", v.Bytes, nil, min(len(v.Bytes), 8))
	default:
		v.Bytes = []byte(s.pseudonym(wordFor(name), string(v.Bytes)))
	}
	return v
}

func wordFor(name ber.OID) string {
	for _, p := range pseudonymOf {
		if name.HasPrefix(p.under) {
			return p.word
		}
	}
	return "text"
}

// pseudonym is the one of a text, such as name-2.
func (s *Scrubber) pseudonym(kind, text string) string {
	if s.known == nil {
		s.known, s.counts = map[string]string{}, map[string]int{}
	}
	key := kind + "\x00" + text
	if s.known[key] == "" {
		s.counts[kind]++
		s.known[key] = fmt.Sprintf("%s-%d", kind, s.counts[kind])
		s.Hide(text)
	}
	return s.known[key]
}

// numbered is a pseudonym of so many octets: head, and a number.
func (s *Scrubber) numbered(kind string, b, head []byte, size int) []byte {
	s.pseudonym(kind, string(b))
	n := 0
	fmt.Sscanf(strings.TrimPrefix(s.known[kind+"\x00"+string(b)], kind+"-"), "%d", &n)
	out := slices.Concat(head, make([]byte, max(size-len(head), 0)))
	for i := len(out) - 1; i >= len(head) && n > 0; i-- {
		out[i] = byte(n)
		n >>= 8
	}
	return out
}

// address is one of 198.18.0.0/15, which RFC 2544 keeps for benchmarks: unlike the
// ranges for documentation it has room. What names no machine stays.
func (s *Scrubber) address(b []byte) []byte {
	if a, ok := netip.AddrFromSlice(b); ok && (a.IsUnspecified() || a.IsLoopback()) {
		return b
	}
	return s.numbered("address", b, []byte{198, 18}, 4)
}
