package ber

// Tag is the identifier octet of an encoded value.
type Tag byte

// Values (RFC 3416 section 3, RFC 3417 section 8).
const (
	Integer     Tag = 0x02 // INTEGER, Integer32
	OctetString Tag = 0x04
	Null        Tag = 0x05
	ObjectID    Tag = 0x06
	Sequence    Tag = 0x30
	IPAddress   Tag = 0x40
	Counter32   Tag = 0x41
	Gauge32     Tag = 0x42 // also Unsigned32
	TimeTicks   Tag = 0x43
	Opaque      Tag = 0x44
	Counter64   Tag = 0x46

	NoSuchObject   Tag = 0x80
	NoSuchInstance Tag = 0x81
	EndOfMibView   Tag = 0x82
)

// PDUs (RFC 3416 section 3; TrapV1 is of RFC 1157).
const (
	GetRequest     Tag = 0xa0
	GetNextRequest Tag = 0xa1
	Response       Tag = 0xa2
	SetRequest     Tag = 0xa3
	TrapV1         Tag = 0xa4
	GetBulkRequest Tag = 0xa5
	InformRequest  Tag = 0xa6
	TrapV2         Tag = 0xa7
	Report         Tag = 0xa8
)

// IsPDU says whether t is one of the nine PDUs.
func (t Tag) IsPDU() bool { return t >= GetRequest && t <= Report }
