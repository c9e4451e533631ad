package usm

import "crypto/sha256"

// enterprise is the number that RFC 5612 reserves for documentation.
const enterprise = 32473

// Formats of an engine ID behind the enterprise number (RFC 3411 SnmpEngineID).
const (
	formatText   = 4
	formatOctets = 5
)

// EngineID is the snmpEngineID of the card with that serial number: the same
// for every start, and another one for every card. The form is that of RFC 3411:
// enterprise number, format, then the serial number as text, or a digest of it
// if it is too long for that.
func EngineID(serial string) string {
	id := []byte{enterprise>>24 | 0x80, enterprise >> 16 & 0xff, enterprise >> 8 & 0xff, enterprise & 0xff, formatText}
	if room := MaxEngineID - len(id); len(serial) > room {
		sum := sha256.Sum256([]byte(serial))
		id[4] = formatOctets
		return string(append(id, sum[:room]...))
	}
	return string(append(id, serial...))
}

// Window is how far apart two notions of an engine's time may be, in seconds
// (RFC 3414 section 2.2.3).
const Window = 150

// MaxCount is the greatest value of snmpEngineBoots and snmpEngineTime. An
// engine whose boots have come to it accepts nothing any more.
const MaxCount = 1<<31 - 1

// InWindow says whether a message that claims boots and time is timely for the
// authoritative engine itself (RFC 3414 section 3.2 7a).
func InWindow(engineBoots, engineTime, boots, time int32) bool {
	apart := int64(engineTime) - int64(time)
	return engineBoots != MaxCount && boots == engineBoots && apart <= Window && apart >= -Window
}
