package journal

import (
	"encoding/json"
	"io"
	"strings"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Version is the number of the format.
const Version = 1

// Header begins a journal. Scenario is the file's name for messages, Source its
// text, Seed the seed in force.
type Header struct {
	Version  int    `json:"ridethrough_journal"`
	Scenario string `json:"scenario"`
	Source   string `json:"source"`
	Variant  string `json:"variant,omitempty"`
	Seed     uint64 `json:"seed"`
	// Memory is what the card had kept from before, without what only its surfaces
	// need to know; nil if it keeps nothing.
	Memory *snap.Memory `json:"memory,omitempty"`
	// Units is that of the cards of further units, if Memory is there.
	Units []*snap.Memory `json:"unit_memories,omitempty"`
	// RealLeases says that real address servers were asked; commands have what they said.
	RealLeases bool `json:"real_leases,omitempty"`
}

type traceLine struct {
	Trace string `json:"trace"`
}

type endLine struct {
	End vtime.Tick `json:"end"`
}

// Writer writes one journal, each line with one call and as soon as it is known:
// a session that is killed leaves what it came to. Its first error sticks; see
// [Writer.Err]. It is not safe for concurrent use.
type Writer struct {
	enc *json.Encoder
	err error
}

// New begins a journal; h.Version is set.
func New(w io.Writer, h Header) *Writer {
	j := &Writer{enc: json.NewEncoder(w)}
	j.enc.SetEscapeHTML(false)
	h.Version = Version
	j.put(h)
	return j
}

// Command records one accepted command.
func (j *Writer) Command(e engine.Entry) { j.put(e) }

// Write records lines of the trace: give the Writer to a trace as its target.
// p holds whole lines.
func (j *Writer) Write(p []byte) (int, error) {
	for line := range strings.Lines(string(p)) {
		j.put(traceLine{strings.TrimSuffix(line, "\n")})
	}
	return len(p), j.err
}

// End records where the session stopped; nothing may follow.
func (j *Writer) End(at vtime.Tick) { j.put(endLine{at}) }

// Err is the first error of the underlying writer.
func (j *Writer) Err() error { return j.err }

func (j *Writer) put(v any) {
	if j.err == nil {
		j.err = j.enc.Encode(v)
	}
}
