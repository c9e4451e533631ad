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

// Lists of whose entries [Notes] knows what they still lack.
const (
	keyPath       = "access.key"
	managerPath   = "access.snmp-user"
	recipientPath = "alerts.recipients"
)

// EntriesIn are the paths of the entries of those lists that changes touch, each once.
func EntriesIn(list []Change) (paths []string) {
	for _, c := range list {
		for _, of := range []string{keyPath, managerPath, recipientPath} {
			rest, is := strings.CutPrefix(c.Path, of+".")
			name, _, _ := strings.Cut(rest, ".")
			if path := of + "." + name; is && !c.Removed && !slices.Contains(paths, path) {
				paths = append(paths, path)
			}
		}
	}
	return paths
}

// Notes are sentences on those entries of s, by their paths, that come to nothing as they
// are. known says who has an account on the card; nil: nobody can tell.
func Notes(s *snap.Settings, paths []string, known func(user string) bool) (notes []string) {
	note := func(of, name, text string) {
		if path := of + "." + name; slices.Contains(paths, path) {
			notes = append(notes, path+": "+text)
		}
	}
	for _, k := range s.SignInRules().Keys {
		if known != nil && !known(k.User) {
			note(keyPath, k.Name, fmt.Sprintf("the card has no account %s: the key opens nothing until there is one.", k.User))
		}
	}
	for _, u := range s.Manager().Users {
		if !u.Usable() {
			note(managerPath, u.Name, "its pass phrases are not all set: nobody can be this user until they are.")
		}
	}
	for _, r := range s.Alerting().Recipients {
		if s.Alerting().Mail.Server == "" {
			note(recipientPath, r.Name, "no mail relay is set: nobody gets mail until alerts.mail.server is.")
		}
	}
	return notes
}
