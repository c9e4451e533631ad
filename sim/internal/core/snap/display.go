package snap

import (
	"fmt"
	"strings"
)

// DisplayString says why text is no DisplayString of at most limit characters, "" if it
// is one. RFC 2579 takes the repertoire of NVT ASCII for it, codes 0 to 127 with all
// control characters, but a CR that neither LF nor NUL follows is illegal.
func DisplayString(text string, limit int) string {
	if len(text) > limit {
		return fmt.Sprintf("%d characters are too many: at most %d", len(text), limit)
	}
	for i := range len(text) {
		if text[i] >= 0x80 {
			return "plain characters only: ASCII, without accents"
		}
		if text[i] == '\r' && (i+1 == len(text) || !strings.ContainsRune("\n\x00", rune(text[i+1]))) {
			return "a carriage return stands before a line feed or a NUL alone (RFC 2579)"
		}
	}
	return ""
}
