// Package ber reads and writes the subset of the Basic Encoding Rules (X.690)
// that SNMP uses (RFC 3417 section 8), the community-based message around it
// (RFC 1901, RFC 3416), and the outside of the message of SNMPv3 (RFC 3412).
//
// Reading is strict where two readings of the same bytes would be possible and
// liberal where they would not: lengths are definite and never reach past what
// holds them, every value is checked against its SMI type, nothing may follow
// the last element; but a length or an INTEGER may be longer than it needs to
// be, as some encoders always write four octets.
//
// A [Message] is reused from one request to the next and then reads without
// allocating. Writing appends to a slice of the caller's; what holds other
// values is bracketed by [Open] and [Close].
package ber
