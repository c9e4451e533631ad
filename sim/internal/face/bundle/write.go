package bundle

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"hash"
	"io"
	"time"

	"ridethrough/sim/internal/face/ber"
)

// Writer writes a bundle, one whole line with each call. It is not safe for
// concurrent use.
type Writer struct {
	to       io.Writer
	sum      hash.Hash
	scrub    *Scrubber // nil: nothing is
	last     []Object
	readings int
	notices  int
	gaps     int
	clocks   Clocks
}

// NewWriter writes the header. With scrub what follows is written with pseudonyms.
func NewWriter(to io.Writer, h Header, scrub *Scrubber) (*Writer, error) {
	w := &Writer{to: to, sum: sha256.New(), scrub: scrub}
	w.clocks.Start = h.Start
	scrubbed := scrub != nil
	return w, w.line(&line{
		Version: Format, Start: h.Start.Format(time.RFC3339Nano), Interval: h.Interval.Milliseconds(),
		SNMP: h.Version, Scrubbed: &scrubbed, Program: h.Program,
	})
}

func (w *Writer) line(l *line) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(l); err != nil {
		return err
	}
	w.sum.Write(b.Bytes())
	_, err := w.to.Write(b.Bytes())
	return err
}

// Reading writes one. Its objects must be sorted, see [Sort].
func (w *Writer) Reading(r Reading) error {
	w.clocks.See(&r)
	objects := r.Objects
	if w.scrub != nil {
		objects = w.scrub.Objects(objects)
	}
	l := readingLine{Took: r.Took.Milliseconds()}
	l.Set, l.Gone = changes(w.last, objects)
	w.last = objects
	w.readings++
	at := r.At.Milliseconds()
	return w.line(&line{At: &at, Reading: &l})
}

// changes is how objects differ from those before.
func changes(before, objects []Object) (set [][2]string, gone []string) {
	for len(before) > 0 || len(objects) > 0 {
		order := 0
		switch {
		case len(before) == 0:
			order = 1
		case len(objects) == 0:
			order = -1
		default:
			order = before[0].Name.Compare(objects[0].Name)
		}
		switch {
		case order < 0:
			gone = append(gone, before[0].Name.String())
			before = before[1:]
			continue
		case order > 0, !Same(before[0].Value, objects[0].Value):
			set = append(set, pair(objects[0]))
		}
		if order == 0 {
			before = before[1:]
		}
		objects = objects[1:]
	}
	return set, gone
}

func pair(o Object) [2]string { return [2]string{o.Name.String(), textOf(o.Value)} }

// Notice writes one.
func (w *Writer) Notice(n Notice) error {
	if w.scrub != nil {
		n = w.scrub.Notice(n)
	}
	l := noticeLine{SNMP: n.Version, Inform: n.Inform, Peer: n.Peer, Trap: n.Trap.String(), Uptime: n.Uptime}
	for _, o := range n.Objects {
		l.Values = append(l.Values, pair(o))
	}
	w.notices++
	at := n.At.Milliseconds()
	return w.line(&line{At: &at, Notice: &l})
}

// Gap writes one.
func (w *Writer) Gap(g Gap) error {
	w.gaps++
	at := g.At.Milliseconds()
	return w.line(&line{At: &at, Gap: &g.Why})
}

// Close writes the end, with the digest of all lines before it. The writer under it
// stays open.
func (w *Writer) Close(end time.Duration) error {
	at := end.Milliseconds()
	digest := hex.EncodeToString(w.sum.Sum(nil))
	return w.line(&line{At: &at, End: &endLine{w.readings, w.notices, w.gaps, w.clocks.line()}, SHA256: digest})
}

// Counts are how many readings, notifications and gaps were written.
func (w *Writer) Counts() (readings, notices, gaps int) { return w.readings, w.notices, w.gaps }

// Clocks is what the readings told of the card's clocks.
func (w *Writer) Clocks() *Clocks { return &w.clocks }

// named is an identifier that is written in a program: it panics if it is none.
func named(text string) ber.OID { return ber.MustOID(text) }
