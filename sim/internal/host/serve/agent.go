package serve

import (
	"crypto/rand"
	"encoding/binary"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/host/pace"
)

// newAgent is the agent of a session. Its salts begin anywhere, so that two
// sessions of the same card do not encrypt alike.
func newAgent(source snap.Source, clock *pace.Clock) *snmp.Agent {
	var salt [8]byte
	rand.Read(salt[:]) // never fails
	return snmp.New(source, snmp.Config{Clock: clock.Elapsed, Salt: binary.BigEndian.Uint64(salt[:])})
}
