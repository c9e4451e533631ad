package menu

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// add makes an entry of a list and steps through its settings.
func (s State) add(v View, args []string) (State, Output) {
	list, reason := listOf(args, "add")
	if list == nil {
		return s.again(v, reason)
	}
	name := strings.ToLower(args[1])
	if err := s.change(v, "add", list.Path, name); err != nil {
		return s.again(v, sentence(err.Error()))
	}
	return s.guide(v, keeps+" ? explains the question, Ctrl-C gives up.\n", s.under(v, list.Path+"."+name)...)
}

func (s State) remove(v View, args []string) (State, Output) {
	list, reason := listOf(args, "remove")
	if list == nil {
		return s.again(v, reason)
	}
	name := strings.ToLower(args[1])
	if err := s.change(v, "remove", list.Path, name); err != nil {
		return s.again(v, sentence(err.Error()))
	}
	return s.again(v, s.reminder(v))
}

// listOf is the list that args name, and why there is none.
func listOf(args []string, verb string) (*setting.List, string) {
	var known []string
	for _, l := range setting.Lists() {
		if l.Fixed == "" {
			known = append(known, l.Path)
		}
	}
	switch {
	case len(known) == 0:
		return nil, "This card has no lists.\n"
	case len(args) != 2:
		return nil, fmt.Sprintf("Type %s, a list and a name. The lists are %s.\n", verb, strings.Join(known, ", "))
	}
	l, err := setting.FindList(args[0])
	if err != nil {
		return nil, sentence(err.Error())
	}
	return l, ""
}

// showSettings are the settings at or under a word, as they are saved.
func showSettings(saved *snap.Settings, word string) (string, bool) {
	var b strings.Builder
	for _, ref := range setting.Every(saved) {
		if ref.Path == word || strings.HasPrefix(ref.Path, word+".") {
			fmt.Fprintf(&b, "  %-28s %s\n", ref.Path, ref.Show(saved))
		}
	}
	return b.String(), b.Len() > 0
}
