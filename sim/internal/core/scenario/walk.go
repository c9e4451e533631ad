package scenario

import (
	"fmt"

	"github.com/pelletier/go-toml/v2/unstable"
)

// walk goes through the file once, in order.
type walk struct {
	src   *source
	p     unstable.Parser
	root  *node
	here  *node // the table that keys belong to
	count int
}

// run stops without an error at what is not TOML: the decoder words that.
func (w *walk) run() error {
	w.p.Reset(w.src.text)
	w.here = w.root
	for w.p.NextExpression() {
		if err := w.expression(w.p.Expression()); err != nil {
			return err
		}
	}
	return nil
}

func (w *walk) expression(e *unstable.Node) error {
	switch e.Kind {
	case unstable.Table, unstable.ArrayTable:
		return w.header(e)
	case unstable.KeyValue:
		return w.keyValue(w.here, e, 1)
	}
	return nil
}

// header enters the table that [a.b] or [[a.b]] names.
func (w *walk) header(e *unstable.Node) error {
	n, last := w.root, (*node)(nil)
	depth := 0
	for it := e.Key(); it.Next(); depth++ {
		if err := w.limit(it.Node(), depth, 0); err != nil {
			return err
		}
		last = n.enter(string(it.Node().Data), int(it.Node().Raw.Offset))
		n = last.latest()
	}
	if e.Kind == unstable.ArrayTable {
		last.shape = arrayShape
		n = newTable(last.key)
		n.key = headerOffset(e)
		n.off = n.key
		last.items = append(last.items, n)
	}
	w.here = n
	return nil
}

func headerOffset(e *unstable.Node) int {
	it := e.Key()
	it.Next()
	return int(it.Node().Raw.Offset)
}

func (w *walk) keyValue(n *node, e *unstable.Node, depth int) error {
	name, offset := "", 0
	for it, first := e.Key(), true; it.Next(); first = false {
		if err := w.limit(it.Node(), depth, 0); err != nil {
			return err
		}
		if !first {
			n = n.enter(name, offset).latest()
			depth++
		}
		name, offset = string(it.Node().Data), int(it.Node().Raw.Offset)
	}
	kid, err := w.value(e.Value(), offset, depth)
	if err != nil {
		return err
	}
	n.put(name, kid)
	return nil
}

func (w *walk) value(v *unstable.Node, key, depth int) (*node, error) {
	n := &node{key: key, off: key, size: int(v.Raw.Length)}
	if n.size > 0 {
		n.off = int(v.Raw.Offset)
	}
	if err := w.limit(v, depth, n.off); err != nil {
		return nil, err
	}
	switch v.Kind {
	case unstable.Array:
		n.shape = arrayShape
		for it := v.Children(); it.Next(); {
			item, err := w.value(it.Node(), n.off, depth+1)
			if err != nil {
				return nil, err
			}
			n.items = append(n.items, item)
		}
	case unstable.InlineTable:
		n.shape, n.kids = tableShape, map[string]*node{}
		for it := v.Children(); it.Next(); {
			if err := w.keyValue(n, it.Node(), depth+1); err != nil {
				return nil, err
			}
		}
	}
	return n, nil
}

// limit refuses what is too much, at the first key or value beyond it; lists
// have no place of their own and use fallback.
func (w *walk) limit(n *unstable.Node, depth, fallback int) error {
	w.count++
	at := int(n.Raw.Offset)
	if n.Raw.Length == 0 {
		at = fallback
	}
	switch {
	case w.count > maxValues:
		return w.src.at(at, fmt.Sprintf("the file has more than %d keys and values", maxValues), "fewer")
	case depth > maxDepth:
		return w.src.at(at, fmt.Sprintf("more than %d tables and arrays inside each other", maxDepth), "fewer")
	case n.Kind == unstable.Key && n.Raw.Length > maxKey:
		return w.src.at(at, fmt.Sprintf("the key has %d bytes", n.Raw.Length), fmt.Sprintf("at most %d", maxKey))
	}
	return nil
}
