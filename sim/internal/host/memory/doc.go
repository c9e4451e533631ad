// Package memory keeps the memory of cards in one bbolt file, so that a process
// that is killed at any instant loses nothing that was acknowledged.
//
// The file has a bucket for every card, named by its serial number. In it are
// the sections of the card's memory, its logs with an entry under each number,
// and a mark that stands while a process serves the card.
package memory
