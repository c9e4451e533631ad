package snmp

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/usm"
)

// userBased is the number of the user-based security model (RFC 3411 section 5).
const userBased = 3

// sealed is a message of SNMPv3 on its way out: open it, append the PDU, close
// it. Its fields say what goes around the PDU.
type sealed struct {
	id         int32
	maxSize    int
	reportable bool
	level      snap.SecurityLevel
	params     usm.Params // Auth and Priv are set by open
	key        *usm.Key   // of the user with the authoritative engine; not for NoAuthNoPriv
	serial     uint64     // of the salt
	scope      ber.Scope

	salt  [usm.SaltSize]byte
	mac   int // where its octets are, from the beginning of the message's content
	marks [3]int
	depth int
}

// flags is the security level with the reportable flag.
func (s *sealed) flags() byte {
	f := [...]byte{snap.NoAuthNoPriv: 0, snap.AuthNoPriv: ber.FlagAuth, snap.AuthPriv: ber.FlagAuth | ber.FlagPriv}[s.level]
	if s.reportable {
		f |= ber.FlagReportable
	}
	return f
}

// open appends everything up to where the PDU begins.
func (s *sealed) open(out []byte) []byte {
	s.protect()
	out, s.marks[0] = ber.Open(out, ber.Sequence)
	out = ber.AppendInt(out, ber.Integer, ber.V3)
	out, header := ber.Open(out, ber.Sequence)
	out = ber.AppendInt(out, ber.Integer, int64(s.id))
	out = ber.AppendInt(out, ber.Integer, int64(s.maxSize))
	out = append(out, byte(ber.OctetString), 1, s.flags())
	out = ber.AppendInt(out, ber.Integer, userBased)
	out = ber.Close(out, header)
	out, fromEnd := s.params.Append(out)
	s.mac = len(out) - fromEnd - s.marks[0]
	s.depth = 1
	if s.level == snap.AuthPriv {
		out = s.nest(out, ber.OctetString)
	}
	out = s.nest(out, ber.Sequence)
	out = ber.AppendString(out, ber.OctetString, s.scope.EngineID)
	return ber.AppendString(out, ber.OctetString, s.scope.Context)
}

// protect makes the parameters that the level asks for.
func (s *sealed) protect() {
	s.params.Auth, s.params.Priv = nil, nil
	if s.level >= snap.AuthNoPriv {
		s.params.Auth = room[:s.key.MACSize()]
	}
	if s.level == snap.AuthPriv {
		s.salt = s.key.Salt(s.params.Boots, s.serial)
		s.params.Priv = s.salt[:]
	}
}

// room stands for octets of authentication that are still to come.
var room [64]byte

func (s *sealed) nest(out []byte, tag ber.Tag) []byte {
	out, s.marks[s.depth] = ber.Open(out, tag)
	s.depth++
	return out
}

// overhead is the most that close adds to what was appended.
func (s *sealed) overhead() int {
	const padding = 7 // DES
	return 2*s.depth + padding
}

// close ends the message that open began, encrypts and signs it. The message
// begins out.
func (s *sealed) close(out []byte) []byte {
	out = ber.Close(out, s.marks[s.depth-1])
	if s.level == snap.AuthPriv {
		data := out[s.marks[1]:]
		out = append(out, room[:s.key.Padding(len(data))]...)
		s.key.Encrypt(out[s.marks[1]:], s.params.Boots, s.params.Time, s.salt[:])
		out = ber.Close(out, s.marks[1])
	}
	content := len(out) - s.marks[0]
	out = ber.Close(out, s.marks[0])
	if s.level >= snap.AuthNoPriv {
		s.key.Sign(out, len(out)-content+s.mac)
	}
	return out
}
