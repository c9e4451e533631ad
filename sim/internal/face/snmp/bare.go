package snmp

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// Bare is n as a trap of SNMPv2c that nobody sends: to be recorded. v is the device as
// it is then; false for a kind that is not known.
func Bare(n snap.Notification, v *model.View) (message []byte, ok bool) {
	kind, ok := model.NotificationAt(n.Kind, v.Dev.Card.Settings.Conformance)
	if !ok {
		return nil, false
	}
	out, mark := ber.Open(nil, ber.Sequence)
	out = ber.AppendInt(out, ber.Integer, ber.V2c)
	out = ber.AppendString(out, ber.OctetString, "")
	return ber.Close(appendTrapV2(out, Envelope{}, kind, n, v), mark), true
}
