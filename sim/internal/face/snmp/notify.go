package snmp

import (
	"errors"
	"fmt"
	"net/netip"
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/usm"
)

// Version is a version of the message format.
type Version int32

// Versions.
const (
	V1  Version = ber.V1
	V2c Version = ber.V2c
	V3  Version = ber.V3
)

// VersionByName is the version that a scenario calls "v1", "v2c" or "v3".
func VersionByName(name string) (Version, bool) {
	switch name {
	case "v1":
		return V1, true
	case "v2c":
		return V2c, true
	case "v3":
		return V3, true
	}
	return 0, false
}

// Envelope is how a notification goes to one receiver.
type Envelope struct {
	Version   Version
	Community string             // SNMPv1 and SNMPv2c
	User      string             // SNMPv3: one of the card's users
	Level     snap.SecurityLevel // SNMPv3
	// RequestID tells informs apart; an acknowledgement repeats it. In a trap of
	// SNMPv2c or SNMPv3 it means nothing, in one of SNMPv1 it does not exist.
	RequestID int32
	// AgentAddr is the card's address, which SNMPv1 puts into the message. What
	// is not an IPv4 address is sent as 0.0.0.0.
	AgentAddr netip.Addr

	inform bool
}

// Reasons for which a notification cannot be sent.
var (
	ErrInform       = errors.New("snmp: SNMPv1 has no informs")
	ErrVersion      = errors.New("snmp: the card does not speak that version")
	ErrNotification = errors.New("snmp: no such notification")
	ErrUser         = errors.New("snmp: the card has no such user")
	ErrLevel        = errors.New("snmp: the user has no keys for that security level")
	ErrView         = errors.New("snmp: outside the receiver's notify view")
)

// trapOID is snmpTrapOID, which tells SNMPv2 notifications apart (RFC 3416
// section 4.2.6).
var trapOID = ber.OID{1, 3, 6, 1, 6, 3, 1, 1, 4, 1}

// Notification appends to out[:0] the message by which n goes to one receiver,
// from the present state, and counts it. What it returns may be sent again as it
// is, but not one of SNMPv3 after more than [usm.Window] seconds. The error is one
// of those above.
func (a *Agent) Notification(out []byte, e Envelope, n snap.Notification) ([]byte, error) {
	i := issue{agent: a, e: e, n: n}
	if err := i.prepare(); err != nil {
		return out, err
	}
	if e.Version == V3 {
		out = i.seal3(out[:0])
	} else {
		out = i.seal(out[:0])
	}
	a.sent(out)
	a.counters.Add(model.OutTraps, 1)
	a.tell(i.view.Quirks, i.view.Now, i.view.Acted)
	return out, nil
}

// issue is a notification on its way to one receiver.
type issue struct {
	agent *Agent
	e     Envelope
	n     snap.Notification
	kind  model.Notification
	view  model.View
	user  *snap.User // SNMPv3
	key   *usm.Key   // its key with the card's own engine
}

// prepare finds all that the message needs, and says why it cannot be sent.
func (i *issue) prepare() (err error) {
	a, dev, now := i.agent, i.agent.source.Device(), i.agent.source.Now()
	begun := a.restart(&dev.Card, now)
	i.view = model.View{Dev: dev, Now: now, Counters: &a.counters, Engine: &model.Engine{
		Time: a.engineTime(&dev.Card, now, begun), MaxSize: a.maxSize,
	}, Quirks: dev.Card.Quirks}
	if i.view.Quirks != nil {
		i.view.Dice = &a.oddities().dice
	}
	var ok bool
	if i.kind, ok = model.NotificationAt(i.n.Kind, dev.Card.Settings.Conformance); !ok {
		return fmt.Errorf("%w: %d", ErrNotification, i.n.Kind)
	}
	within, err := i.allowed(accessOf(&dev.Card))
	if err == nil && !i.seenIn(within) {
		err = ErrView
	}
	return err
}

// allowed is the view that the notification must lie in.
func (i *issue) allowed(access *snap.Access) (*snap.View, error) {
	switch e := &i.e; {
	case e.Version == V1 && e.inform:
		return nil, ErrInform
	case e.Version == V1 && access.V1, e.Version == V2c && access.V2c:
		return access.Reader.Notify, nil
	case e.Version != V3 || !access.V3:
		return nil, fmt.Errorf("%w: %d", ErrVersion, e.Version)
	}
	i.user, i.key = i.agent.keys(&i.view.Dev.Card).find([]byte(i.e.User), i.agent.masters)
	switch {
	case i.user == nil:
		return nil, fmt.Errorf("%w: %q", ErrUser, i.e.User)
	case i.e.Level > i.user.Highest():
		return nil, fmt.Errorf("%w: %q, %v", ErrLevel, i.e.User, i.e.Level)
	case i.e.Level < i.user.Level:
		return nil, ErrView
	}
	return i.user.Views.Notify, nil
}

// seenIn says whether the notification and all that it carries lie in the view
// (RFC 3413 section 3.3).
func (i *issue) seenIn(v *snap.View) bool {
	if v == snap.Everything() {
		return true
	}
	for _, name := range i.kind.Objects {
		if !v.Holds(model.Lookup(name).OID, i.instance(name)) {
			return false
		}
	}
	return v.Holds(i.kind.OID)
}

// instance is which instance of an object the notification carries.
func (i *issue) instance(name string) uint32 { return instanceOf(i.n, model.Lookup(name)) }

// instanceOf is the row of x that n is about; the port is the only one.
func instanceOf(n snap.Notification, x *model.Variable) uint32 {
	switch {
	case x.Table == nil:
		return 0
	case n.AlarmID != 0:
		return uint32(n.AlarmID)
	case n.Row != 0:
		return uint32(n.Row)
	}
	return 1
}

// seal appends the community-based message.
func (i *issue) seal(out []byte) []byte {
	out, mark := ber.Open(out, ber.Sequence)
	out = ber.AppendInt(out, ber.Integer, int64(i.e.Version))
	out = ber.AppendString(out, ber.OctetString, i.e.Community)
	if i.e.Version == V1 {
		out = appendTrapV1(out, i.e, i.kind, i.n, &i.view)
	} else {
		out = appendTrapV2(out, i.e, i.kind, i.n, &i.view)
	}
	return ber.Close(out, mark)
}

// seal3 appends the message of SNMPv3, of which the card's own engine is the
// authority (RFC 3412 section 7.1).
func (i *issue) seal3(out []byte) []byte {
	a, engine := i.agent, i.agent.keys(&i.view.Dev.Card).engine
	s := sealed{
		id: a.nextID(), maxSize: a.maxSize, level: i.e.Level, key: i.key, serial: a.salt.Add(1),
		params: usm.Params{EngineID: engine, User: []byte(i.user.Name)},
		scope:  ber.Scope{EngineID: engine},
	}
	if s.level > snap.NoAuthNoPriv {
		s.params.Boots, s.params.Time = bootsOf(&i.view.Dev.Card), int32(i.view.Engine.Time)
	}
	return s.close(appendTrapV2(s.open(out), i.e, i.kind, i.n, &i.view))
}

// nextID is a fresh msgID.
func (a *Agent) nextID() int32 { return a.messages.Add(1) & usm.MaxCount }

// notItsOwn is the address of a card that names another one than its own (RFC 5737
// keeps it for documentation).
var notItsOwn = [4]byte{203, 0, 113, 1}

// appendTrapV1 appends the PDU of RFC 1157 section 4.1.6, mapped as RFC 3584
// section 3.2 says.
func appendTrapV1(out []byte, e Envelope, kind model.Notification, n snap.Notification, v *model.View) []byte {
	enterprise, generic, specific := v1Identity(kind, v)
	address := [4]byte{}
	if a := e.AgentAddr.Unmap(); a.Is4() {
		address = a.As4()
	}
	if v.Quirks.Of(snap.QuirkWrongAgentAddress) != nil {
		v.Acted.Add(snap.QuirkWrongAgentAddress)
		address = notItsOwn
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
	case snap.NotifyColdStart, snap.NotifyWarmStart, snap.NotifyAuthFailure, snap.NotifyLinkDown, snap.NotifyLinkUp:
		return model.Lookup("sysObjectID").At(v, 0).OID, last - 1, 0
	}
	if above := len(parent) - 1; parent[above] == 0 { // RFC 3584 section 3.2
		parent = parent[:above]
	}
	return parent, enterpriseSpecific, last
}

// appendTrapV2 appends a trap or inform of RFC 3416 sections 4.2.6 and 4.2.7.
func appendTrapV2(out []byte, e Envelope, kind model.Notification, n snap.Notification, v *model.View) []byte {
	tag := ber.TrapV2
	if e.inform {
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

// told is the state of the link, of a group or of a contact that n tells. Of the
// link and a group 1 is the good one, and 2 the other.
func told(n snap.Notification) int64 {
	if n.Kind == snap.NotifyContact {
		return int64(n.Contact) + 1
	}
	if n.Kind == snap.NotifyLinkUp || n.Live {
		return 1
	}
	return 2
}

// appendObjects appends the variables that the notification carries. What it tells
// comes from the notification, because by now it may be different: a removed row
// is no longer in the table.
func appendObjects(out []byte, kind model.Notification, n snap.Notification, v *model.View) []byte {
	bind := appendBinding
	if v.Quirks.Of(snap.QuirkNoInstance) != nil && len(kind.Objects) > 0 {
		v.Acted.Add(snap.QuirkNoInstance)
		bind = appendBare
	}
	for _, name := range slices.Concat(kind.Objects, model.Beside(n)) {
		x := model.Lookup(name)
		switch name {
		case "upsAlarmId":
			out = bind(out, x, uint32(n.AlarmID), model.Value{Int: int64(n.AlarmID)})
		case "upsAlarmDescr":
			out = bind(out, x, uint32(n.AlarmID), model.Value{OID: model.Alarm(n.Alarm).OID})
		case "ifOperStatus", "rtGroupState", "rtContactState":
			out = bind(out, x, instanceOf(n, x), model.Value{Int: told(n)})
		case "rtProbeCause":
			out = bind(out, x, instanceOf(n, x), model.Value{Int: model.ProbeCause(n.Cause)})
		default:
			instance := instanceOf(n, x)
			if x.Table != nil && n.Row != 0 && int(n.Row) > x.Rows(v) { // the card was told of fewer just now
				continue
			}
			out = bind(out, x, instance, x.At(v, max(int(instance), 1)-1))
		}
	}
	return out
}
