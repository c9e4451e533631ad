package snap

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
)

// Memory is what a card kept from its life before, as a host keeps it for it.
// What the sections and entries say only core/card knows.
type Memory struct {
	Sections map[string]json.RawMessage `json:"sections,omitempty"`
	Logs     map[string][]LogEntry      `json:"logs,omitempty"` // oldest first
	// Cut says that the life before ended without warning: the last entries of the
	// logs may be missing, at most [MostLost] of each.
	Cut bool `json:"cut,omitempty"`
}

// LogEntry is one entry of a log. Seq rises and is never used again.
type LogEntry struct {
	Seq   uint64          `json:"seq"`
	Value json.RawMessage `json:"value"`
}

// MostLost is how many entries of a log a host may lose, because it need not
// write each of them at once.
const MostLost = 2000

// Keep is what of a card's memory has changed. Its sections are not lost any
// more once the command that changed them was answered; entries of logs may be.
type Keep struct {
	Sections map[string]json.RawMessage // whole; nil takes one out
	Logs     []LogKeep
}

// LogKeep is what is new in one log, and where the log begins now.
type LogKeep struct {
	Name    string
	From    uint64 // entries before this one go
	Entries []LogEntry
}

// DecodeStrict decodes exactly one JSON value without fields that are unknown, which a
// newer program has written.
func DecodeStrict(text []byte, v any) error {
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(v); err != nil {
		return err
	}
	if _, err := dec.Token(); err != io.EOF {
		return errors.New("more than one value")
	}
	return nil
}
