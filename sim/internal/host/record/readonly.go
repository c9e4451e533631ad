package record

import (
	"errors"
	"net"

	"ridethrough/sim/internal/face/ber"
)

// readOnly lets only requests to read leave. The content of an encrypted message it
// cannot see: that there is nothing else in one is up to [Asker].
type readOnly struct{ net.Conn }

var errNotARead = errors.New("record sends requests to read only: this is none")

// Write sends a request to read, and refuses everything else.
func (c *readOnly) Write(b []byte) (int, error) {
	if !reads(b) {
		return 0, errNotARead
	}
	return c.Conn.Write(b)
}

func reads(message []byte) bool {
	var m ber.Message
	switch err := m.Decode(message); {
	case err == nil:
		return readsPDU(&m.PDU)
	case !errors.Is(err, ber.ErrVersion):
		return false
	}
	var m3 ber.V3Message
	if m3.Decode(message) != nil {
		return false
	}
	if m3.Plain == nil {
		return m3.Flags&ber.FlagPriv != 0
	}
	var scope ber.Scope
	var pdu ber.PDU
	return ber.DecodeScoped(m3.Plain, &scope, &pdu) == nil && readsPDU(&pdu)
}

func readsPDU(p *ber.PDU) bool {
	switch p.Type {
	case ber.GetRequest, ber.GetNextRequest, ber.GetBulkRequest:
		return true
	}
	return false
}
