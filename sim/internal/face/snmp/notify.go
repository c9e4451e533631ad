package snmp

import (
	"errors"
	"fmt"
	"net/netip"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// Version is a version of the message format.
type Version int32

// Versions.
const (
	V1  Version = ber.V1
	V2c Version = ber.V2c
)

// VersionByName is the version that a scenario calls "v1" or "v2c".
func VersionByName(name string) (Version, bool) {
	switch name {
	case "v1":
		return V1, true
	case "v2c":
		return V2c, true
	}
	return 0, false
}

// Envelope is how a notification goes to one receiver.
type Envelope struct {
	Version   Version
	Community string
	// RequestID tells informs apart; an acknowledgement repeats it. In a trap of
	// SNMPv2c it means nothing, in one of SNMPv1 it does not exist.
	RequestID int32
	// Inform asks the receiver to acknowledge; SNMPv2c only.
	Inform bool
	// AgentAddr is the card's address, which SNMPv1 puts into the message. What
	// is not an IPv4 address is sent as 0.0.0.0.
	AgentAddr netip.Addr
}

// Reasons for which a notification cannot be encoded.
var (
	ErrInform       = errors.New("snmp: SNMPv1 has no informs")
	ErrVersion      = errors.New("snmp: no such version")
	ErrNotification = errors.New("snmp: no such notification")
)

// trapOID is snmpTrapOID, which tells SNMPv2 notifications apart (RFC 3416
// section 4.2.6).
var trapOID = ber.OID{1, 3, 6, 1, 6, 3, 1, 1, 4, 1}

// EncodeNotification appends to out[:0] the message by which n goes to one
// receiver, with the values that v shows. It fails with ErrInform, ErrVersion or
// ErrNotification.
func EncodeNotification(out []byte, e Envelope, n snap.Notification, v *model.View) ([]byte, error) {
	kind, ok := model.NotificationOf(n.Kind)
	switch {
	case !ok:
		return nil, fmt.Errorf("%w: %d", ErrNotification, n.Kind)
	case e.Version == V1 && e.Inform:
		return nil, ErrInform
	case e.Version != V1 && e.Version != V2c:
		return nil, fmt.Errorf("%w: %d", ErrVersion, e.Version)
	}
	out, mark := ber.Open(out[:0], ber.Sequence)
	out = ber.AppendInt(out, ber.Integer, int64(e.Version))
	out = ber.AppendString(out, ber.OctetString, e.Community)
	if e.Version == V1 {
		out = appendTrapV1(out, e, kind, n, v)
	} else {
		out = appendTrapV2(out, e, kind, n, v)
	}
	return ber.Close(out, mark), nil
}

// appendTrapV1 appends the PDU of RFC 1157 section 4.1.6, mapped as RFC 3584
// section 3.2 says.
func appendTrapV1(out []byte, e Envelope, kind model.Notification, n snap.Notification, v *model.View) []byte {
	enterprise, generic, specific := v1Identity(kind, v)
	address := [4]byte{}
	if a := e.AgentAddr.Unmap(); a.Is4() {
		address = a.As4()
	}
	out, pdu := ber.Open(out, ber.TrapV1)
	out = ber.AppendOID(out, enterprise)
	out = ber.AppendString(out, ber.IPAddress, address[:])
	out = ber.AppendInt(out, ber.Integer, generic)
	out = ber.AppendInt(out, ber.Integer, specific)
	out = ber.AppendInt(out, ber.TimeTicks, model.Lookup("sysUpTime").At(v, 0).Int)
	out, list := ber.Open(out, ber.Sequence)
	out = appendObjects(out, kind, n, v)
	return ber.Close(ber.Close(out, list), pdu)
}

// v1Identity is the enterprise, generic-trap and specific-trap of a
// notification. The generic ones of SNMPv1 are numbered from 0 where
// SNMPv2 counts from 1, and come from the kind of device.
func v1Identity(kind model.Notification, v *model.View) (enterprise ber.OID, generic, specific int64) {
	const enterpriseSpecific = 6
	parent, last := kind.OID[:len(kind.OID)-1], int64(kind.OID[len(kind.OID)-1])
	switch kind.Kind {
	case snap.NotifyColdStart, snap.NotifyWarmStart, snap.NotifyAuthFailure:
		return model.Lookup("sysObjectID").At(v, 0).OID, last - 1, 0
	}
	return parent, enterpriseSpecific, last
}

// appendTrapV2 appends a trap or inform of RFC 3416 sections 4.2.6 and 4.2.7.
func appendTrapV2(out []byte, e Envelope, kind model.Notification, n snap.Notification, v *model.View) []byte {
	tag := ber.TrapV2
	if e.Inform {
		tag = ber.InformRequest
	}
	out, pdu := ber.Open(out, tag)
	for _, field := range [...]int32{e.RequestID, 0, 0} {
		out = ber.AppendInt(out, ber.Integer, int64(field))
	}
	out, list := ber.Open(out, ber.Sequence)
	upTime := model.Lookup("sysUpTime")
	out = appendBinding(out, upTime, 0, upTime.At(v, 0))
	out, mark := ber.Open(out, ber.Sequence)
	out = ber.AppendOID(ber.AppendOID(out, trapOID, 0), kind.OID)
	out = ber.Close(out, mark)
	out = appendObjects(out, kind, n, v)
	return ber.Close(ber.Close(out, list), pdu)
}

// appendObjects appends the variables that the notification carries. An alarm's
// come from the notification, because a removed row is no longer in the table.
func appendObjects(out []byte, kind model.Notification, n snap.Notification, v *model.View) []byte {
	for _, name := range kind.Objects {
		x := model.Lookup(name)
		switch name {
		case "upsAlarmId":
			out = appendBinding(out, x, uint32(n.AlarmID), model.Value{Int: int64(n.AlarmID)})
		case "upsAlarmDescr":
			out = appendBinding(out, x, uint32(n.AlarmID), model.Value{OID: model.Alarm(n.Alarm).OID})
		default:
			out = appendBinding(out, x, 0, x.At(v, 0))
		}
	}
	return out
}

// Acknowledgement reads what a receiver of informs sent back: whose inform it
// answers, and with which status. Anything but a response of SNMPv2c is not one.
func Acknowledgement(message []byte) (requestID int32, status Status, ok bool) {
	var m ber.Message
	if m.Decode(message) != nil || m.Version != ber.V2c || m.PDU.Type != ber.Response {
		return 0, 0, false
	}
	return m.PDU.RequestID, Status(m.PDU.Status), true
}
