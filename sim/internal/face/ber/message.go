package ber

// MaxVarBinds bounds the variable bindings of one message: more than any reply
// of common size can hold.
const MaxVarBinds = 2048

// Versions of the message format as they stand in it.
const (
	V1  = 0 // RFC 1157
	V2c = 1 // RFC 1901
	V3  = 3 // RFC 3412
)

// Message is a community-based message. Decode fills it again and again; what it
// then holds aliases the bytes read and lasts until the next Decode.
type Message struct {
	Version   int32
	Community []byte
	PDU       PDU
}

// PDU is the operation of a message. Of a TrapV1 only Type is filled.
type PDU struct {
	Type      Tag
	RequestID int32
	// Status and Index are error-status and error-index, or in a GetBulkRequest
	// non-repeaters and max-repetitions. A request may carry any number there.
	Status, Index int32
	VarBinds      []VarBind
	Raw           []byte // the variable bindings as they were encoded, without the head of their list

	arcs []uint32 // what the names and values of VarBinds are cut from
}

// VarBind is one variable and its value.
type VarBind struct {
	Name  OID
	Value Value
}

// Value is a decoded value: Int for the integer types (the bits of a Counter64),
// OID for OBJECT IDENTIFIER, Bytes for OCTET STRING, IpAddress and Opaque.
type Value struct {
	Tag   Tag
	Int   int64
	Bytes []byte
	OID   OID
}

// message is at the first field of the message, of whatever version, that fills b.
func message(b []byte) (Reader, error) {
	r := NewReader(b)
	content, err := r.Expect(Sequence)
	if err != nil {
		return r, err
	}
	return NewReader(content), r.End()
}

// messageOf opens the envelope of a message of one version: the reader is behind it.
func messageOf(b []byte, version int32) (Reader, error) {
	r, err := message(b)
	if err != nil {
		return r, err
	}
	v, err := r.Int32()
	if err == nil && v != version {
		err = ErrVersion
	}
	return r, err
}

// Decode reads one message that fills b. After ErrVersion, Version is what the
// message said and nothing else was read.
func (m *Message) Decode(b []byte) error {
	r, err := message(b)
	if err != nil {
		return err
	}
	if m.Version, err = r.Int32(); err != nil {
		return err
	}
	if m.Version != V1 && m.Version != V2c {
		return ErrVersion
	}
	if m.Community, err = r.Expect(OctetString); err != nil {
		return err
	}
	if err := m.PDU.decode(&r); err != nil {
		return err
	}
	return r.End()
}

func (p *PDU) decode(r *Reader) error {
	tag, content, err := r.Next()
	if err != nil {
		return err
	}
	if !tag.IsPDU() {
		return ErrTag
	}
	*p = PDU{Type: tag, VarBinds: p.VarBinds[:0], arcs: p.arcs[:0]}
	if tag == TrapV1 {
		return nil
	}
	body := NewReader(content)
	for _, field := range []*int32{&p.RequestID, &p.Status, &p.Index} {
		if *field, err = body.Int32(); err != nil {
			return err
		}
	}
	if p.Raw, err = body.Expect(Sequence); err != nil {
		return err
	}
	if err := body.End(); err != nil {
		return err
	}
	return p.decodeVarBinds()
}

func (p *PDU) decodeVarBinds() error {
	for list := NewReader(p.Raw); !list.Empty(); {
		if len(p.VarBinds) == MaxVarBinds {
			return ErrTooMany
		}
		content, err := list.Expect(Sequence)
		if err != nil {
			return err
		}
		var vb VarBind
		if err := p.decodeVarBind(&vb, content); err != nil {
			return err
		}
		p.VarBinds = append(p.VarBinds, vb)
	}
	return nil
}

func (p *PDU) decodeVarBind(vb *VarBind, content []byte) error {
	r := NewReader(content)
	name, err := r.Expect(ObjectID)
	if err != nil {
		return err
	}
	if vb.Name, err = p.oid(name); err != nil {
		return err
	}
	tag, content, err := r.Next()
	if err != nil {
		return err
	}
	if err := r.End(); err != nil {
		return err
	}
	return p.decodeValue(&vb.Value, tag, content)
}

func (p *PDU) decodeValue(v *Value, tag Tag, content []byte) (err error) {
	v.Tag = tag
	var unsigned uint64
	switch tag {
	case Integer:
		v.Int, err = readInt(content, 4)
	case Counter32, Gauge32, TimeTicks:
		unsigned, err = readUint(content, 4)
		v.Int = int64(unsigned)
	case Counter64:
		unsigned, err = readUint(content, 8)
		v.Int = int64(unsigned)
	case ObjectID:
		v.OID, err = p.oid(content)
	case OctetString, Opaque:
		v.Bytes = content
	case IPAddress:
		v.Bytes = content
		err = lengthIs(content, 4)
	case Null, NoSuchObject, NoSuchInstance, EndOfMibView:
		err = lengthIs(content, 0)
	default:
		err = ErrTag
	}
	return err
}

// oid decodes content into the arena of p.
func (p *PDU) oid(content []byte) (OID, error) {
	start := len(p.arcs)
	arcs, err := appendArcs(p.arcs, content)
	p.arcs = arcs
	return OID(arcs[start:len(arcs):len(arcs)]), err
}

func lengthIs(content []byte, n int) error {
	if len(content) != n {
		return ErrRange
	}
	return nil
}
