package snmp

import (
	"errors"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// admit decodes a community-based message and says whether it is a request that
// is to be answered. Whatever it turns away it counts.
func (w *worker) admit(request []byte) bool {
	if err := w.msg.Decode(request); err != nil {
		if errors.Is(err, ber.ErrVersion) {
			w.counters.Add(model.InBadVersions, 1)
		} else {
			w.counters.Add(model.InASNParseErrs, 1)
		}
		return false
	}
	mayRead := w.authenticate(&w.view.Dev.Card.Settings)
	if !mayRead {
		w.counters.Add(model.InBadCommunityNames, 1)
		w.agent.accuse(w.view.Now, w.peer)
		return false
	}
	return w.isRequest()
}

// authenticate says whether the community opens anything, and notes whether it
// may write.
func (w *worker) authenticate(s *snap.Settings) bool {
	reads := sameSecret(w.msg.Community, s.ReadCommunity)
	w.mayWrite = sameSecret(w.msg.Community, s.WriteCommunity)
	return reads || w.mayWrite
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
		if len(reply) > w.agent.maxSize {
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
	out, w.frame[0] = ber.Open(out, ber.Sequence)
	out = ber.AppendInt(out, ber.Integer, int64(w.msg.Version))
	out = ber.AppendString(out, ber.OctetString, w.msg.Community)
	out, w.frame[1] = ber.Open(out, ber.Response)
	out = ber.AppendInt(out, ber.Integer, int64(w.msg.PDU.RequestID))
	out = ber.AppendInt(out, ber.Integer, int64(f.status))
	out = ber.AppendInt(out, ber.Integer, int64(f.index))
	out, w.frame[2] = ber.Open(out, ber.Sequence)
	return out
}

// close ends the reply that open began.
func (w *worker) close(out []byte) []byte {
	for i := len(w.frame) - 1; i >= 0; i-- {
		out = ber.Close(out, w.frame[i])
	}
	return out
}

// fits says whether out, still to be closed, will not be too big. Closing adds
// two octets to the length of each frame when the reply is long.
func (w *worker) fits(out []byte) bool {
	return len(out)+2*len(w.frame) <= w.agent.maxSize
}
