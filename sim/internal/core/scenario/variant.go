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

// pick finds the item of a list that rest begins with: its name, or its number
// counted from 1.
func pick(src *source, n *node, rest, path string, value *node) (item *node, tail string, err error) {
	var names []string
	for i, kid := range n.items {
		for _, name := range []string{itemName(kid), strconv.Itoa(i + 1)} {
			if name == "" {
				continue
			}
			names = append(names, name)
			if after, ok := strings.CutPrefix(rest, name+"."); ok {
				return kid, after, nil
			}
		}
	}
	for _, name := range names {
		if rest == name {
			return nil, "", src.at(value.key, fmt.Sprintf("%q names a whole table", short(path)), "the path of one of its keys")
		}
	}
	head, _, _ := strings.Cut(rest, ".")
	p := src.at(value.key, fmt.Sprintf("%q: there is no %q", short(path), short(head)), "the name of a table, or its number counted from 1")
	p.Near = expect.Nearest(head, names)
	return nil, "", p
}

func itemName(n *node) string {
	if kid := n.kids["name"]; kid != nil {
		name, _ := kid.val.(string)
		return name
	}
	return ""
}
