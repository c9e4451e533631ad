package ber

// Trap1 is a notification of SNMPv1 (RFC 1157 section 4.1.6). Decode fills it again
// and again; what it then holds aliases the bytes read.
type Trap1 struct {
	Community         []byte
	Enterprise        OID
	Generic, Specific int32
	PDU               PDU // its VarBinds alone
}

// Decode reads a message of SNMPv1 with a trap that fills b.
func (t *Trap1) Decode(b []byte) error {
	r, err := messageOf(b, V1)
	if err != nil {
		return err
	}
	if t.Community, err = r.Expect(OctetString); err != nil {
		return err
	}
	content, err := r.Expect(TrapV1)
	if err != nil {
		return err
	}
	if err := r.End(); err != nil {
		return err
	}
	return t.decode(NewReader(content))
}

func (t *Trap1) decode(r Reader) error {
	t.PDU = PDU{Type: TrapV1, VarBinds: t.PDU.VarBinds[:0], arcs: t.PDU.arcs[:0]}
	enterprise, err := r.Expect(ObjectID)
	if err != nil {
		return err
	}
	if t.Enterprise, err = t.PDU.oid(enterprise); err != nil {
		return err
	}
	agent, err := r.Expect(IPAddress)
	if err != nil {
		return err
	}
	if err := lengthIs(agent, 4); err != nil {
		return err
	}
	for _, field := range []*int32{&t.Generic, &t.Specific} {
		if *field, err = r.Int32(); err != nil {
			return err
		}
	}
	if _, err = r.Expect(TimeTicks); err != nil {
		return err
	}
	if t.PDU.Raw, err = r.Expect(Sequence); err != nil {
		return err
	}
	if err := r.End(); err != nil {
		return err
	}
	return t.PDU.decodeVarBinds()
}
