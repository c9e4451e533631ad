package snmp

import (
	"errors"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// handle answers a message of any version.
func (w *worker) handle(request, out []byte) []byte {
	err := w.msg.Decode(request)
	switch access := accessOf(&w.view.Dev.Card); {
	case errors.Is(err, ber.ErrVersion) && w.msg.Version == ber.V3 && access.V3:
		return w.handle3(request, out)
	case errors.Is(err, ber.ErrVersion), err == nil && !speaks(access, w.msg.Version):
		w.counters.Add(model.InBadVersions, 1)
	case err != nil:
		w.counters.Add(model.InASNParseErrs, 1)
	case !w.authenticate(access):
		w.counters.Add(model.InBadCommunityNames, 1)
		w.agent.accuse(w.view.Now, w.caller, snap.USMOpen)
	case w.isRequest():
		w.limit, w.permitted = w.agent.maxSize, true
		return w.answer(out)
	}
	return out
}

// speaks says whether the card answers that community-based version.
func speaks(a *snap.Access, version int32) bool {
	return version == ber.V1 && a.V1 || version == ber.V2c && a.V2c
}

// authenticate says whether the community opens anything, and notes what.
func (w *worker) authenticate(a *snap.Access) bool {
	s := &w.view.Dev.Card.Settings
	reads, writes := sameSecret(w.msg.Community, s.ReadCommunity.Reveal()), sameSecret(w.msg.Community, s.WriteCommunity.Reveal())
	w.views = &a.Reader
	if writes {
		w.views = &a.Writer
	}
	return reads || writes
}

// sameSecret compares in a time that tells nothing but the length. An empty
// secret is never the same.
func sameSecret(given []byte, secret string) bool {
	if len(given) != len(secret) {
		return false
	}
	diff := byte(0)
	for i, c := range given {
		diff |= c ^ secret[i]
	}
	return diff == 0 && secret != ""
}

// isRequest counts the message by its PDU and says whether an agent answers it.
func (w *worker) isRequest() bool {
	switch w.msg.PDU.Type {
	case ber.GetRequest:
		w.counters.Add(model.InGetRequests, 1)
	case ber.GetNextRequest:
		w.counters.Add(model.InGetNexts, 1)
	case ber.SetRequest:
		w.counters.Add(model.InSetRequests, 1)
	case ber.GetBulkRequest:
		if w.msg.Version == ber.V1 { // which has no such PDU
			w.counters.Add(model.InASNParseErrs, 1)
			return false
		}
	case ber.Response:
		w.counters.Add(model.InGetResponses, 1)
		return false
	default:
		w.counters.Add(model.InTraps, 1)
		return false
	}
	return true
}

// answer appends the reply to the request that was admitted.
func (w *worker) answer(out []byte) []byte {
	if !w.permitted {
		return w.refuse(out, fault{AuthorizationError, 0})
	}
	body, f := w.perform(w.open(out, fault{}))
	if f.status == NoError {
		return w.close(body)
	}
	return w.refuse(out, f)
}

// refuse appends a reply that reports f, with the request's variables as they
// came (RFC 1157 section 4.1, RFC 3416 section 4.2).
func (w *worker) refuse(out []byte, f fault) []byte {
	if f.status == silence {
		return out
	}
	f.status = f.status.in(w.msg.Version)
	for _, try := range []struct {
		fault
		variables []byte
	}{
		{f, w.echo(f.status)},
		{fault{TooBig, 0}, w.echo(TooBig)},
		{fault{TooBig, 0}, nil},
	} {
		reply := w.close(append(w.open(out, try.fault), try.variables...))
		if len(reply) > w.limit {
			continue
		}
		if c, ok := counterOf(try.status); ok {
			w.counters.Add(c, 1)
		}
		return reply
	}
	w.counters.Add(model.SilentDrops, 1)
	return out
}

// echo is the variables that go with an error: none with tooBig in SNMPv2c.
func (w *worker) echo(s Status) []byte {
	if s == TooBig && w.msg.Version != ber.V1 {
		return nil
	}
	return w.msg.PDU.Raw
}

// open appends the head of a reply up to where its variables begin.
func (w *worker) open(out []byte, f fault) []byte {
	if w.msg.Version == ber.V3 {
		s := w.seal(w.r3.level)
		w.limit = min(w.agent.maxSize, int(w.r3.msg.MaxSize))
		out = s.open(out)
		w.closing = s.overhead() + 2*len(w.frame[1:])
	} else {
		out, w.frame[0] = ber.Open(out, ber.Sequence)
		out = ber.AppendInt(out, ber.Integer, int64(w.msg.Version))
		out = ber.AppendString(out, ber.OctetString, w.msg.Community)
		w.closing = 2 * len(w.frame)
	}
	out, w.frame[1] = ber.Open(out, ber.Response)
	out = ber.AppendInt(out, ber.Integer, int64(w.replyID()))
	out = ber.AppendInt(out, ber.Integer, int64(f.status))
	out = ber.AppendInt(out, ber.Integer, int64(f.index))
	out, w.frame[2] = ber.Open(out, ber.Sequence)
	return out
}

// close ends the reply that open began.
func (w *worker) close(out []byte) []byte {
	out = ber.Close(ber.Close(out, w.frame[2]), w.frame[1])
	if w.msg.Version == ber.V3 {
		return w.sealed.close(out)
	}
	return ber.Close(out, w.frame[0])
}

// fits says whether out, still to be closed, will not be too big. Closing adds
// two octets to the length of each frame when the reply is long.
func (w *worker) fits(out []byte) bool { return len(out)+w.closing <= w.limit }
