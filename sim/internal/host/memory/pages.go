package memory

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/fnv"
)

// The library believes what a page says of itself: one that leads to itself keeps
// it busy for ever. So the pages are looked at here first, as its format has them
// (go.etcd.io/bbolt/internal/common: page.go, meta.go, inode.go, bucket.go, of
// version 2 of the file).

const (
	pageHeader   = 16
	element      = 16
	bucketHeader = 16
	metaSize     = 64
	fileMagic    = 0xED0CDAED
	fileVersion  = 2

	branchPage = 0x01
	leafPage   = 0x02
	bucketLeaf = 0x01
)

var native = binary.NativeEndian

// pages is a whole file.
type pages struct {
	text []byte
	size int // of a page
	high uint64
	seen map[uint64]bool
}

// checkPages goes through every page that the newest state of the file has.
func checkPages(text []byte) error {
	for _, size := range []int{4096, 8192, 16384, 32768, 65536} { // of the machine that made it
		root, high, ok := newest(text, size)
		if !ok {
			continue
		}
		p := &pages{text: text, size: size, high: high, seen: map[uint64]bool{}}
		return p.page(root)
	}
	return errors.New("no valid beginning")
}

// newest is the state with the highest transaction of the two that a file holds.
func newest(text []byte, size int) (root, high uint64, ok bool) {
	last := uint64(0)
	for at := 0; at <= size; at += size {
		if len(text) < at+pageHeader+metaSize {
			return root, high, ok
		}
		m := text[at+pageHeader : at+pageHeader+metaSize]
		sum := fnv.New64a()
		sum.Write(m[:56])
		if native.Uint32(m) != fileMagic || native.Uint32(m[4:]) != fileVersion || native.Uint32(m[8:]) != uint32(size) || native.Uint64(m[56:]) != sum.Sum64() {
			continue
		}
		if tx := native.Uint64(m[48:]); !ok || tx > last {
			root, high, last, ok = native.Uint64(m[16:]), native.Uint64(m[40:]), tx, true
		}
	}
	return root, high, ok
}

// page looks at a page and all below it.
func (p *pages) page(id uint64) error {
	if id < 2 || id >= p.high || id >= uint64(len(p.text)/p.size) {
		return fmt.Errorf("page %d is not in the file", id)
	}
	at := int(id) * p.size
	over := uint64(native.Uint32(p.text[at+12:]))
	if id+over >= uint64(len(p.text)/p.size) {
		return fmt.Errorf("page %d is longer than the file", id)
	}
	for i := id; i <= id+over; i++ {
		if p.seen[i] {
			return fmt.Errorf("page %d is used twice", i)
		}
		p.seen[i] = true
	}
	return p.elements(p.text[at:at+p.size*int(over+1)], id)
}

// elements looks at what is in a page; id is for messages.
func (p *pages) elements(page []byte, id uint64) error {
	flags, count := native.Uint16(page[8:]), int(native.Uint16(page[10:]))
	if flags != branchPage && flags != leafPage || flags == branchPage && count == 0 {
		return fmt.Errorf("page %d is of no kind that belongs there", id)
	}
	if pageHeader+count*element > len(page) {
		return fmt.Errorf("page %d has more elements than room", id)
	}
	for i := range count {
		at := pageHeader + i*element
		var err error
		if flags == branchPage {
			err = p.branch(page[at:], id)
		} else {
			err = p.leaf(page[at:], id)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// branch looks at one element, which begins rest, and what it leads to.
func (p *pages) branch(rest []byte, id uint64) error {
	if uint64(native.Uint32(rest))+uint64(native.Uint32(rest[4:])) > uint64(len(rest)) {
		return fmt.Errorf("page %d leads past its end", id)
	}
	return p.page(native.Uint64(rest[8:]))
}

func (p *pages) leaf(rest []byte, id uint64) error {
	pos, key, value := uint64(native.Uint32(rest[4:])), uint64(native.Uint32(rest[8:])), uint64(native.Uint32(rest[12:]))
	if pos+key+value > uint64(len(rest)) {
		return fmt.Errorf("page %d leads past its end", id)
	}
	if native.Uint32(rest) != bucketLeaf {
		return nil
	}
	bucket := rest[pos+key : pos+key+value]
	switch {
	case len(bucket) < bucketHeader:
		return fmt.Errorf("page %d has a bucket that is cut", id)
	case native.Uint64(bucket) != 0:
		return p.page(native.Uint64(bucket))
	case len(bucket) < bucketHeader+pageHeader:
		return fmt.Errorf("page %d has a bucket that is cut", id)
	}
	return p.elements(bucket[bucketHeader:], id) // in its place
}
