package scenario

import (
	"encoding/hex"
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/rng"
)

// serialNumber is the serial number on the factory label for that seed.
func serialNumber(seed uint64) string {
	key := rng.Key(seed, "serial number")
	return "RT" + strings.ToUpper(hex.EncodeToString(key[:5]))
}

// hardwareAddress is a locally administered unicast address for that seed.
func hardwareAddress(seed uint64) string {
	key := rng.Key(seed, "hardware address")
	return fmt.Sprintf("02:%02x:%02x:%02x:%02x:%02x", key[0], key[1], key[2], key[3], key[4])
}

// community is the word on the label that opens SNMP for access "read" or
// "write": the first 12 hexadecimal digits of a SHA-256 over seed, access and
// serial number, so that no two cards share one.
func community(seed uint64, serial, access string) string {
	key := rng.Key(seed, access+" community/"+serial)
	return access + "-" + hex.EncodeToString(key[:6])
}

// cardName is the default of sysName.
func cardName(serial string) string {
	tail := strings.ToLower(serial)
	if len(tail) > 6 {
		tail = tail[len(tail)-6:]
	}
	return "ups-" + tail
}
