// Package bundle is what was recorded of a card: the objects that it answered with,
// each time it was asked, the notifications that came, and the times at which
// nothing came. docs/record.md describes its form, a text of one JSON object a
// line, which a [Writer] writes and [Read] reads.
//
// A file that was cut off is readable as far as it goes; one that was changed is
// not, because its last line has a digest of the others.
//
// [Scrubber] puts pseudonyms in the place of what says whose card it is. It keeps
// text only of objects that are known to be harmless.
package bundle
