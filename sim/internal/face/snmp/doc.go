// Package snmp is the card's SNMP agent as a function from request to reply,
// and the encoder of its notifications. It speaks SNMPv1 (RFC 1157) and SNMPv2c
// (RFC 1901, RFC 3416), with the error mapping between them of RFC 3584. It has
// no socket: host code moves the bytes.
//
// What the standards leave open is decided here:
//   - the write community may also read;
//   - a write with the read community is refused, and counted in
//     snmpInBadCommunityUses; an unknown community gets no answer;
//   - a variable that is named twice in one write is refused the second time;
//   - a reply that does not fit is tooBig with the request's variables in
//     SNMPv1, if those fit, and without any otherwise;
//   - a get-bulk reply holds as many variables as fit, and at least one, else it
//     is tooBig.
//
// The operations work on a decoded PDU and append a PDU; the community-based
// message around it is in message.go alone.
package snmp
