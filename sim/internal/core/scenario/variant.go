package scenario

import (
	"fmt"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/expect"
)

// apply changes the tree as the variant says.
func (v *variantTable) apply(src *source, root *node) error {
	for _, path := range v.Set.node.order {
		value := v.Set.node.kids[path]
		if value.shape == tableShape && !strings.Contains(path, ".") {
			return src.at(value.key, fmt.Sprintf("%q names a whole table", short(path)), "the path of one key in quotes"+like(path, value))
		}
		if err := assignPath(src, root, path, value); err != nil {
			return err
		}
	}
	return nil
}

// like shows how a path without its quotes has to be written.
func like(path string, value *node) string {
	if len(value.order) == 0 {
		return ""
	}
	return fmt.Sprintf(", such as %q", short(path+"."+value.order[0]))
}

// assignPath puts value at path. Tables that are not there are made: the schema
// tells afterwards whether such a key exists.
func assignPath(src *source, root *node, path string, value *node) error {
	n, rest := root, path
	for {
		if n.shape == arrayShape {
			item, tail, err := pick(src, n, rest, path, value)
			if err != nil {
				return err
			}
			n, rest = item, tail
		}
		if n.shape != tableShape {
			return src.at(value.key, fmt.Sprintf("%q goes through a single value", short(path)), "a path that ends there")
		}
		head, tail, more := strings.Cut(rest, ".")
		if !more {
			n.put(head, value)
			return nil
		}
		if n.kids[head] == nil {
			n.put(head, newTable(value.key))
		}
		n, rest = n.kids[head], tail
	}
}

// pick finds the item of a list that rest begins with, and what follows it.
func pick(src *source, n *node, rest, path string, value *node) (item *node, tail string, err error) {
	i, tail := itemCalled(n.items, rest)
	if tail, more := strings.CutPrefix(tail, "."); i >= 0 && more {
		return n.items[i], tail, nil
	}
	if i >= 0 {
		return nil, "", src.at(value.key, fmt.Sprintf("%q names a whole table", short(path)), "the path of one of its keys")
	}
	head, _, _ := strings.Cut(rest, ".")
	p := src.at(value.key, fmt.Sprintf("%q: there is no %q", short(path), short(head)), "the name of a table, or its number counted from 1")
	p.Near = expect.Nearest(head, calledNames(n.items))
	return nil, "", p
}

// itemCalled is the place of the item of a list that a path begins with, by its name
// or its number counted from 1, and what follows, from the dot on; -1 if there is none.
func itemCalled(items []*node, path string) (i int, tail string) {
	for i, kid := range items {
		for _, name := range []string{itemName(kid), strconv.Itoa(i + 1)} {
			tail, ok := strings.CutPrefix(path, name)
			if name != "" && ok && (tail == "" || tail[0] == '.') {
				return i, tail
			}
		}
	}
	return -1, ""
}

// calledNames are all that items of a list can be called, but for the numbers of those
// with a name.
func calledNames(items []*node) []string {
	names := make([]string, len(items))
	for i, kid := range items {
		names[i] = calledName(kid, i)
	}
	return names
}

// calledName is the name of item i of a list, or else its number counted from 1.
func calledName(item *node, i int) string {
	if name := itemName(item); name != "" {
		return name
	}
	return strconv.Itoa(i + 1)
}

func itemName(n *node) string {
	if kid := n.kids["name"]; kid != nil {
		name, _ := kid.val.(string)
		return name
	}
	return ""
}
