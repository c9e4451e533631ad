package serve

import (
	"crypto/rand"
	"encoding/binary"
	"errors"
	"net"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/host/pace"
)

// datagram bounds what is read of one request; a longer one is cut, and then
// does not decode.
const datagram = 64 << 10

// readers is how many requests are worked on at once: reads do not wait behind
// a write that waits for the engine.
const readers = 4

// newAgent is the agent of a session. Its salts begin anywhere, so that two
// sessions of the same card do not encrypt alike.
func newAgent(source snap.Source, clock *pace.Clock) *snmp.Agent {
	var salt [8]byte
	rand.Read(salt[:]) // never fails
	return snmp.New(source, snmp.Config{Clock: clock.Elapsed, Salt: binary.BigEndian.Uint64(salt[:])})
}

// answerSNMP answers requests on conn until it is closed.
func answerSNMP(agent *snmp.Agent, conn *net.UDPConn) {
	in, out := make([]byte, datagram), make([]byte, 0, 2*snmp.DefaultMaxSize)
	for {
		n, peer, err := conn.ReadFromUDPAddrPort(in)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			continue // a peer that is gone is reported here; it is not our end
		}
		if reply := agent.Handle(in[:n], peer.String(), out); len(reply) > 0 {
			conn.WriteToUDPAddrPort(reply, peer)
		}
	}
}
