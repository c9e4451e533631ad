package cli

import (
	"io"
	"text/tabwriter"
)

// writeTable writes head and a row for each of list, in columns that a tab ends.
func writeTable[T any](w io.Writer, head string, list []T, row func(*T) string) error {
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	if _, err := io.WriteString(table, head+"\n"); err != nil {
		return err
	}
	for i := range list {
		if _, err := io.WriteString(table, row(&list[i])+"\n"); err != nil {
			return err
		}
	}
	return table.Flush()
}
