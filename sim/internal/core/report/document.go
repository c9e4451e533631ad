package report

import (
	"encoding/json"
	"io"
)

// WriteJSON writes a document for programs: indented, with a line end, and with < and >
// as they are, which conditions have.
func WriteJSON(w io.Writer, document any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(document)
}

// Each is f of every item of list. An empty list stays a list: clients should not meet
// null.
func Each[T, J any](list []T, f func(*T) J) []J {
	out := make([]J, len(list))
	for i := range list {
		out[i] = f(&list[i])
	}
	return out
}
