// Package image reads and makes firmware images of the simulated card: a format
// of our own, signed with ed25519. docs/card.md describes it octet by octet.
//
// [Read] takes bytes from anywhere. It bounds what it reads before it looks at it,
// and believes nothing of it before the signature was checked.
package image
