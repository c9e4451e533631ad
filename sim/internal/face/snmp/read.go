package snmp

import (
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// perform appends the variables that answer the request. Who has no view at all
// is refused as a whole (RFC 3413 section 3.2).
func (w *worker) perform(out []byte) ([]byte, fault) {
	w.view.within = w.views.Read
	if w.view.within == nil && w.msg.PDU.Type != ber.SetRequest {
		return out, fault{AuthorizationError, 0}
	}
	if w.view.Quirks != nil {
		if f := w.oddRefusal(); f.status != NoError {
			return out, f
		}
	}
	switch w.msg.PDU.Type {
	case ber.GetRequest:
		return w.get(out)
	case ber.GetNextRequest:
		return w.getNext(out)
	case ber.GetBulkRequest:
		return w.getBulk(out)
	default:
		return w.set(out)
	}
}

// get answers a GetRequest (RFC 3416 section 4.2.1).
func (w *worker) get(out []byte) ([]byte, fault) {
	for i := range w.msg.PDU.VarBinds {
		name := w.msg.PDU.VarBinds[i].Name
		at, exception := w.view.findWithin(name)
		switch {
		case exception == 0:
			out = appendInstance(out, &w.view, at)
		case w.msg.Version == ber.V1:
			return out, fault{NoSuchName, i + 1}
		default:
			out = appendException(out, exception, name)
		}
		if !w.fits(out) {
			return out, fault{TooBig, 0}
		}
	}
	w.counters.Add(model.InTotalReqVars, len(w.msg.PDU.VarBinds))
	return out, fault{}
}

// getNext answers a GetNextRequest (RFC 3416 section 4.2.2).
func (w *worker) getNext(out []byte) ([]byte, fault) {
	for i := range w.msg.PDU.VarBinds {
		name := w.msg.PDU.VarBinds[i].Name
		at, ok := after(&w.view, name)
		switch {
		case ok:
			out = appendInstance(out, &w.view, at)
		case w.msg.Version == ber.V1:
			return out, fault{NoSuchName, i + 1}
		default:
			out = appendException(out, ber.EndOfMibView, name)
		}
		if !w.fits(out) {
			return out, fault{TooBig, 0}
		}
	}
	w.counters.Add(model.InTotalReqVars, len(w.msg.PDU.VarBinds))
	return out, fault{}
}
