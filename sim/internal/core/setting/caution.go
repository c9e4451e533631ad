package setting

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

// Cautions are what has to be said before changes are saved: the paths and the caution
// that they share, one line each, in the order of the changes.
func Cautions(list []Change) (lines []string) {
	var said []string
	paths := map[string][]string{}
	for _, c := range list {
		if c.Setting == nil || c.Caution == "" {
			continue
		}
		if paths[c.Caution] == nil {
			said = append(said, c.Caution)
		}
		paths[c.Caution] = append(paths[c.Caution], c.Path)
	}
	for _, caution := range said {
		lines = append(lines, strings.Join(paths[caution], ", ")+": "+caution)
	}
	return lines
}

const keyPath = "access.key"

// KeysIn are the paths of the public keys that changes touch, each once.
func KeysIn(list []Change) (paths []string) {
	for _, c := range list {
		rest, is := strings.CutPrefix(c.Path, keyPath+".")
		name, _, _ := strings.Cut(rest, ".")
		if path := keyPath + "." + name; is && !c.Removed && !slices.Contains(paths, path) {
			paths = append(paths, path)
		}
	}
	return paths
}

// KeyNotes are sentences on those public keys of s, by their paths, whose user has no
// account on the card: they open nothing. known says who has one.
func KeyNotes(s *snap.Settings, paths []string, known func(user string) bool) (notes []string) {
	for _, k := range s.SignInRules().Keys {
		if path := keyPath + "." + k.Name; slices.Contains(paths, path) && !known(k.User) {
			notes = append(notes, fmt.Sprintf("%s: the card has no account %s: the key opens nothing until there is one.", path, k.User))
		}
	}
	return notes
}
