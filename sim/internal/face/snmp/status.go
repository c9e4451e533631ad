package snmp

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// Status is the error-status of a response (RFC 3416 section 3).
type Status int32

// Error-status values. Those above GenErr do not exist in SNMPv1.
const (
	NoError             Status = 0
	TooBig              Status = 1
	NoSuchName          Status = 2 // SNMPv1 only
	BadValue            Status = 3 // SNMPv1 only
	ReadOnly            Status = 4 // SNMPv1 only, never sent
	GenErr              Status = 5
	NoAccess            Status = 6
	WrongType           Status = 7
	WrongLength         Status = 8
	WrongEncoding       Status = 9
	WrongValue          Status = 10
	NoCreation          Status = 11
	InconsistentValue   Status = 12
	ResourceUnavailable Status = 13
	CommitFailed        Status = 14
	UndoFailed          Status = 15
	AuthorizationError  Status = 16
	NotWritable         Status = 17
	InconsistentName    Status = 18

	// silence stands for no reply at all.
	silence Status = -1
)

// fault is why a request is not answered as asked, and at which variable,
// counted from 1; 0 is none in particular.
type fault struct {
	status Status
	index  int
}

// in is the status as SNMPv1 or SNMPv2c knows it (RFC 3584 section 4.4).
func (s Status) in(version int32) Status {
	if version != ber.V1 {
		return s
	}
	switch s {
	case WrongType, WrongLength, WrongEncoding, WrongValue, InconsistentValue:
		return BadValue
	case NoAccess, NotWritable, NoCreation, InconsistentName, AuthorizationError:
		return NoSuchName
	case ResourceUnavailable, CommitFailed, UndoFailed:
		return GenErr
	}
	return s
}

// refusals maps what the table says against a value.
var refusals = [...]Status{
	model.Accepted:    NoError,
	model.WrongType:   WrongType,
	model.WrongLength: WrongLength,
	model.WrongValue:  WrongValue,
}

// verdict maps the engine's answer to a write.
func verdict(s snap.Status) Status {
	switch s {
	case snap.Done:
		return NoError
	case snap.Inconsistent:
		return InconsistentValue
	case snap.WrongValue:
		return WrongValue
	case snap.Busy:
		return ResourceUnavailable
	case snap.Gone:
		return silence
	}
	return GenErr
}

// counterOf is where an error-status that is sent is counted, if anywhere.
func counterOf(s Status) (model.Counter, bool) {
	switch s {
	case TooBig:
		return model.OutTooBigs, true
	case NoSuchName:
		return model.OutNoSuchNames, true
	case BadValue:
		return model.OutBadValues, true
	case GenErr:
		return model.OutGenErrs, true
	}
	return 0, false
}
