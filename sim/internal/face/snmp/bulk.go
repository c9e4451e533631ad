package snmp

import (
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// getBulk answers a GetBulkRequest (RFC 3416 section 4.2.3): the non-repeaters
// once, then rounds of the others, until the reply is full, the rounds are up,
// or a whole round was at the end of the view.
func (w *worker) getBulk(out []byte) ([]byte, fault) {
	p := &w.msg.PDU
	w.cursors = w.cursors[:0]
	for i := range p.VarBinds {
		w.cursors = append(w.cursors, newCursor(&w.view, p.VarBinds[i].Name))
	}
	single := min(max(int(p.Status), 0), len(w.cursors))
	repeaters := w.cursors[single:]

	out, sent, _ := w.round(out, w.cursors[:single])
	full, ended := sent < single, false
	for n, left := 0, w.repetitions(); left > 0 && !full && !ended; left-- {
		out, n, ended = w.round(out, repeaters)
		sent += n
		full = n < len(repeaters)
	}
	if full && sent == 0 {
		return out, fault{TooBig, 0}
	}
	w.returned = sent
	w.counters.Add(model.InTotalReqVars, sent)
	return out, fault{}
}

// round appends the next variable of each cursor as far as they fit. It says how
// many those are, and whether all cursors were at the end.
func (w *worker) round(out []byte, cursors []cursor) (_ []byte, sent int, ended bool) {
	ended = true
	for i := range cursors {
		more := cursors[i].append(out, &w.view)
		if !w.fits(more) {
			break
		}
		out = more
		ended = ended && !cursors[i].ok
		cursors[i].advance(&w.view)
		sent++
	}
	return out, sent, ended
}

// cursor walks the view from behind a name.
type cursor struct {
	name  ber.OID
	at    place // the next instance, if ok
	ok    bool
	last  place // the instance before it, if begun
	begun bool
}

func newCursor(v *scope, name ber.OID) cursor {
	at, ok := after(v, name)
	return cursor{name: name, at: at, ok: ok}
}

// append appends the next instance, or at the end of the view the name that came
// before it with the exception.
func (c *cursor) append(out []byte, v *scope) []byte {
	switch {
	case c.ok:
		return appendInstance(out, v, c.at)
	case c.begun:
		x := v.at(c.last)
		return appendException(out, ber.EndOfMibView, x.OID, x.Instance(&v.View, c.last.row))
	}
	return appendException(out, ber.EndOfMibView, c.name)
}

func (c *cursor) advance(v *scope) {
	if c.ok {
		c.last, c.begun = c.at, true
		c.at, c.ok = c.at.next(v)
	}
}
