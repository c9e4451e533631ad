package ber

// Flags of a [V3Message] (RFC 3412 section 6.4).
const (
	FlagAuth       = 1 << 0
	FlagPriv       = 1 << 1
	FlagReportable = 1 << 2
)

// minMaxSize is the least msgMaxSize (RFC 3412 section 6.3).
const minMaxSize = 484

// V3Message is a message of SNMPv3 (RFC 3412 section 6). Decode fills it again
// and again; what it then holds aliases the bytes read.
type V3Message struct {
	ID, MaxSize int32
	Flags       byte
	Model       int32
	Security    []byte // what msgSecurityParameters holds
	// Plain is the content of a plain ScopedPDU, Cipher an encrypted one. One of
	// them is not nil.
	Plain, Cipher []byte
}

// Decode reads one message that fills b.
func (m *V3Message) Decode(b []byte) error {
	r, err := messageOf(b, V3)
	if err != nil {
		return err
	}
	if err := m.decodeHeader(&r); err != nil {
		return err
	}
	if m.Security, err = r.Expect(OctetString); err != nil {
		return err
	}
	if err := m.decodeData(&r); err != nil {
		return err
	}
	return r.End()
}

func (m *V3Message) decodeHeader(r *Reader) error {
	content, err := r.Expect(Sequence)
	if err != nil {
		return err
	}
	h := NewReader(content)
	if m.ID, err = h.Int32(); err != nil {
		return err
	}
	if m.MaxSize, err = h.Int32(); err != nil {
		return err
	}
	flags, err := h.Expect(OctetString)
	if err != nil {
		return err
	}
	if m.Model, err = h.Int32(); err != nil {
		return err
	}
	if len(flags) != 1 || m.ID < 0 || m.MaxSize < minMaxSize || m.Model < 1 {
		return ErrRange
	}
	m.Flags = flags[0]
	return h.End()
}

func (m *V3Message) decodeData(r *Reader) error {
	tag, content, err := r.Next()
	if err != nil {
		return err
	}
	m.Plain, m.Cipher = nil, nil
	switch tag {
	case Sequence:
		m.Plain = content
	case OctetString:
		m.Cipher = content
	default:
		return ErrTag
	}
	return nil
}

// Scope is where the variables of a PDU are: an engine, and a context in it.
type Scope struct {
	EngineID, Context []byte
}

// DecodeScoped reads the content of a ScopedPDU. What it fills in aliases b.
func DecodeScoped(b []byte, s *Scope, p *PDU) (err error) {
	r := NewReader(b)
	if s.EngineID, err = r.Expect(OctetString); err != nil {
		return err
	}
	if s.Context, err = r.Expect(OctetString); err != nil {
		return err
	}
	if err := p.decode(&r); err != nil {
		return err
	}
	return r.End()
}

// IsConfirmed says whether t is a PDU that asks for an answer (RFC 3411 section
// 2.8).
func (t Tag) IsConfirmed() bool {
	switch t {
	case GetRequest, GetNextRequest, GetBulkRequest, SetRequest, InformRequest:
		return true
	}
	return false
}
