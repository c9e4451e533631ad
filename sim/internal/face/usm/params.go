package usm

import (
	"ridethrough/sim/internal/face/ber"
)

// Lengths in octets.
const (
	MinEngineID = 5 // RFC 3411 SnmpEngineID
	MaxEngineID = 32
	MaxUserName = 32 // RFC 3414 UsmSecurityParameters
)

// Params are the security parameters of a message (RFC 3414 section 2.4). What
// Decode fills in aliases the bytes read.
type Params struct {
	EngineID    []byte // empty in a request for discovery
	Boots, Time int32
	User        []byte
	Auth, Priv  []byte
}

// Decode reads what fills b.
func (p *Params) Decode(b []byte) error {
	r := ber.NewReader(b)
	content, err := r.Expect(ber.Sequence)
	if err != nil {
		return err
	}
	if err := r.End(); err != nil {
		return err
	}
	r = ber.NewReader(content)
	if p.EngineID, err = r.Expect(ber.OctetString); err != nil {
		return err
	}
	for _, field := range []*int32{&p.Boots, &p.Time} {
		if *field, err = r.Int32(); err != nil {
			return err
		}
	}
	for _, field := range []*[]byte{&p.User, &p.Auth, &p.Priv} {
		if *field, err = r.Expect(ber.OctetString); err != nil {
			return err
		}
	}
	if p.Boots < 0 || p.Time < 0 || len(p.User) > MaxUserName {
		return ber.ErrRange
	}
	return r.End()
}

// Append appends p as the octet string that a message holds. The length of Auth
// counts, not its octets: they are written as zeros. fromEnd is the distance
// from the first of them to the end of what was appended.
func (p *Params) Append(out []byte) (_ []byte, fromEnd int) {
	out, outer := ber.Open(out, ber.OctetString)
	out, inner := ber.Open(out, ber.Sequence)
	out = ber.AppendString(out, ber.OctetString, p.EngineID)
	out = ber.AppendInt(out, ber.Integer, int64(p.Boots))
	out = ber.AppendInt(out, ber.Integer, int64(p.Time))
	out = ber.AppendString(out, ber.OctetString, p.User)
	out, auth := ber.Open(out, ber.OctetString)
	out = append(out, zeros[:len(p.Auth)]...)
	out = ber.Close(out, auth)
	at := len(out) - len(p.Auth)
	out = ber.AppendString(out, ber.OctetString, p.Priv)
	fromEnd = len(out) - at
	return ber.Close(ber.Close(out, inner), outer), fromEnd
}

var zeros [48]byte
