// Package usm is the User-based Security Model of SNMPv3 as arithmetic on
// bytes: keys from passwords, message authentication, encryption, and the
// security parameters of a message (RFC 3414, RFC 3826, RFC 7860).
//
// Authentication is HMAC-MD5-96, HMAC-SHA-96 and HMAC-SHA-2 with 224, 256, 384
// and 512 bits; privacy is CBC-DES and CFB128-AES with 128, 192 and 256 bits.
// AES with 192 and 256 bits was never standardised and exists in two forms,
// which make a long key of a short digest in different ways: that of
// draft-blumenthal-aes-usm-04 and that of draft-reeder-snmpv3-usm-3desede-00.
// Both are here; they meet where the digest is long enough.
//
// Who may do what, the order of checks and the counters belong to the agent in
// face/snmp; this package keeps no state but keys.
package usm
