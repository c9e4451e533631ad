package scenario

import (
	"errors"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Limits of a file. They are far above what a person writes and far below what
// costs noticeable time or memory.
const (
	maxBytes  = 1 << 20
	maxLine   = 8 << 10
	maxValues = 20_000
	maxDepth  = 12  // of tables and arrays inside each other
	maxKey    = 128 // bytes of one part of a key
)

type shape uint8

const (
	scalar shape = iota
	tableShape
	arrayShape
)

// node is one value of the file with its place.
type node struct {
	shape shape
	val   any // of a scalar: string, int64, float64, bool, time.Time or a local date
	kids  map[string]*node
	order []string // names of kids in the order of the file
	items []*node
	key   int // offset of its key, or of its table's header
	off   int // offset of the value itself
	size  int // bytes of the value as written
}

func newTable(key int) *node {
	return &node{shape: tableShape, kids: map[string]*node{}, key: key, off: key}
}

// put adds or replaces a kid.
func (n *node) put(name string, kid *node) {
	if n.kids[name] == nil {
		n.order = append(n.order, name)
	}
	n.kids[name] = kid
}

// enter is the kid of that name, made as a table if need be.
func (n *node) enter(name string, offset int) *node {
	kid := n.kids[name]
	if kid == nil {
		kid = newTable(offset)
		n.put(name, kid)
	}
	return kid
}

// latest is where keys below n go: the last table of an array of tables.
func (n *node) latest() *node {
	if len(n.items) > 0 {
		n = n.items[len(n.items)-1]
	}
	if n.kids == nil {
		n.kids = map[string]*node{}
	}
	return n
}

// parse makes a tree of a file that checkBytes let pass. The library's own decoder is the judge of
// what is valid TOML and of the values; the walk before it bounds the cost and
// remembers the places.
func parse(src *source) (*node, error) {
	w := &walk{src: src, root: newTable(0)}
	if err := w.run(); err != nil {
		return nil, err
	}
	var values map[string]any
	if err := toml.Unmarshal(src.text, &values); err != nil {
		return nil, notTOML(src, err)
	}
	fill(w.root, values)
	return w.root, nil
}

func checkBytes(src *source) error {
	if len(src.text) > maxBytes {
		return src.at(0, fmt.Sprintf("the file has more than %d bytes", maxBytes), "fewer: is it a scenario?")
	}
	for i, start := range src.starts {
		end := len(src.text)
		if i+1 < len(src.starts) {
			end = src.starts[i+1]
		}
		if end-start > maxLine {
			return src.at(start, fmt.Sprintf("the line has %d bytes", end-start), fmt.Sprintf("at most %d", maxLine))
		}
	}
	return nil
}

// notTOML is the library's error in our form.
func notTOML(src *source, err error) error {
	var d *toml.DecodeError
	if !errors.As(err, &d) {
		return src.at(0, "not TOML: "+short(err.Error()), "")
	}
	line, column := d.Position()
	return src.at(src.starts[line-1]+column-1, "not TOML: "+strings.TrimPrefix(d.Error(), "toml: "), "")
}

// fill puts the decoded values into the tree that the walk made.
func fill(n *node, v any) {
	switch v := v.(type) {
	case map[string]any:
		n.shape = tableShape
		for name, kid := range n.kids {
			fill(kid, v[name])
		}
	case []any:
		n.shape = arrayShape
		for i := range min(len(v), len(n.items)) {
			fill(n.items[i], v[i])
		}
	default:
		n.val = v
	}
}
