package scenario

import "fmt"

// Written is every key that the file sets, with the line at which its value
// stands. Items of lists go by their number, from 1: host.2.draw_w. With a variant
// it is the changed file.
func Written(name string, src []byte, opts Options) (map[string]int, error) {
	r, err := read(name, src, opts.Seed)
	if err != nil {
		return nil, err
	}
	for i := range r.file.Variants {
		if v := &r.file.Variants[i]; v.Name == opts.Variant {
			if _, err := r.vary(v); err != nil {
				return nil, err
			}
			break
		}
	}
	keys := map[string]int{}
	r.src.written(r.root, "", keys)
	return keys, nil
}

func (s *source) written(n *node, path string, keys map[string]int) {
	if path != "" {
		keys[path] = s.at(n.off, "", "").Line
		path += "."
	}
	for _, name := range n.order {
		s.written(n.kids[name], path+name, keys)
	}
	for i, item := range n.items {
		s.written(item, fmt.Sprintf("%s%d", path, i+1), keys)
	}
}
