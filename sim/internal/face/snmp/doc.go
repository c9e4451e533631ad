// Package snmp is the card's SNMP agent as a function from request to reply,
// and the sender of its notifications. It speaks SNMPv1 (RFC 1157) and SNMPv2c
// (RFC 1901, RFC 3416), with the error mapping between them of RFC 3584, and
// SNMPv3 (RFC 3412) with the user-based security model (RFC 3414) of face/usm.
// It has no socket: host code moves the bytes.
//
// What the standards leave open is decided here:
//
//   - the write community may also read;
//
//   - a write with the read community is refused, and counted in
//     snmpInBadCommunityUses; an unknown community gets no answer;
//
//   - a variable that is named twice in one write is refused the second time;
//
//   - a reply that does not fit is tooBig with the request's variables in
//     SNMPv1, if those fit, and without any otherwise;
//
//   - a get-bulk reply holds as many variables as fit, and at least one, else it
//     is tooBig.
//
//   - a variable outside the reader's view is noSuchObject, and one outside the
//     writer's is noAccess; a user of SNMPv3 without any view for what it asks, or
//     below its security level, gets authorizationError (RFC 3413 section 3.2);
//
//   - a privacy password that is wrong makes a message that decrypts to nonsense:
//     it counts as malformed and gets no answer, or, if so chosen, a
//     decryptionErrors report;
//
//   - Reports tell the engine's true boots and time at every level, so that a
//     manager is in time after one exchange;
//
//   - what is wrong with a message of SNMPv3 is counted and reported, but is no
//     reason for an authenticationFailure notification.
//
// The operations work on a decoded PDU and append a PDU. The community-based
// message around it is in message.go; secure.go and seal.go are the message of
// SNMPv3, inwards and outwards.
package snmp
