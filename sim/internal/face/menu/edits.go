package menu

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// edit is one change that was asked for and not saved: the newest, and those
// before it. It never changes.
type edit struct {
	before      *edit
	verb        string // "set" a setting, "add" or "remove" an entry of a list
	path, value string
}

// merged is what save would write: the card's memory as it is now, with the edits
// made to it one after the other, so that what others saved meanwhile survives. An
// edit that has lost what it was about is left out.
func (s State) merged(v View) *snap.Settings {
	m := v.Dev.Card.Saved.Clone()
	s.edits.apply(m)
	return m
}

func (e *edit) apply(m *snap.Settings) {
	if e == nil {
		return
	}
	e.before.apply(m)
	e.do(m)
}

func (e *edit) do(m *snap.Settings) error {
	if e.verb == "set" {
		ref, err := setting.Find(m, e.path)
		if err != nil {
			return err
		}
		return ref.Set(m, e.value)
	}
	list, err := setting.FindList(e.path)
	switch {
	case err != nil:
		return err
	case e.verb == "add":
		return list.Add(m, e.value)
	}
	return list.Remove(m, e.value)
}

// change takes an edit, if it can be done to what is there.
func (s *State) change(v View, verb, path, value string) error {
	e := &edit{before: s.edits, verb: verb, path: path, value: value}
	if err := e.do(s.merged(v)); err != nil {
		return err
	}
	s.edits = e
	return nil
}

// put edits one setting as a person typed it.
func (s *State) put(v View, path, value string) error {
	ref, err := setting.Find(s.merged(v), path)
	if err != nil {
		return s.noSetting(v, path)
	}
	if err := ref.Typed(value); err != nil {
		return err
	}
	return s.change(v, "set", path, value)
}

// changes are what save would change.
func (s State) changes(v View) []setting.Change {
	if s.edits == nil {
		return nil
	}
	return setting.Diff(&v.Dev.Card.Saved, s.merged(v))
}

func (s State) listChanges(v View) string {
	list := s.changes(v)
	if len(list) == 0 {
		return "Nothing is edited.\n"
	}
	var b strings.Builder
	for _, c := range list {
		label := c.Path
		if c.Setting == nil {
			label = ""
		}
		fmt.Fprintf(&b, "  %-26s %s\n", label, c.Text())
		if c.Setting != nil && c.Caution != "" {
			fmt.Fprintf(&b, "  %-26s CAUTION: %s\n", "", c.Caution)
		}
	}
	if text := shutOut(v, list, s.merged(v)); text != "" {
		b.WriteString("  " + text)
	}
	return b.String()
}

func (s State) undo(v View) (State, Output) {
	n := len(s.changes(v))
	s.edits = nil
	if n == 0 {
		return s.again(v, "Nothing is edited.\n")
	}
	return s.again(v, fmt.Sprintf("%s forgotten.\n", count(n, "change")))
}

// save writes the edits, after a question where one of them has a caution.
func (s State) save(v View) (State, Output) {
	list := s.changes(v)
	if len(list) == 0 {
		return s.ask(v, askWord, "Nothing is edited: nothing to save.\n")
	}
	m := s.merged(v)
	if err := setting.Check(&v.Dev.Card.Saved, m); err != nil {
		s.goal = stay
		return s.ask(v, askWord, "Not saved: "+err.Error()+".\n")
	}
	if text := cautions(v, list, m); text != "" && s.stage != askSure {
		return s.ask(v, askSure, text)
	}
	s.form = form{} // an action that was given up
	s.savedEntries = setting.EntriesIn(list)
	return s.submit(snap.Command{Op: snap.OpSave, Settings: m, Revision: v.Dev.Card.Revision}, "")
}

const sureHelp = "Type yes to save all the same. Anything else goes back, nothing is lost.\n"

func (s State) takeSure(v View, line string) (State, Output) {
	switch strings.ToLower(strings.TrimSpace(line)) {
	case "yes":
		return s.save(v)
	case "?":
		return s.again(v, cautions(v, s.changes(v), s.merged(v))+sureHelp)
	}
	s.goal = stay
	return s.ask(v, askWord, "Not saved.\n")
}

func (s State) saved(v View, r snap.Result) (State, Output) {
	if r.Status != snap.Done {
		s.goal = stay
		return s.ask(v, askWord, "Not saved: "+reason(r)+".\n")
	}
	text := savedText(v, s.savedEntries)
	s.edits, s.savedEntries = nil, nil
	if s.goal == stay {
		return s.ask(v, askWord, text)
	}
	return s.pursue(v, text)
}

// reminder says what has to follow an edit.
func (s State) reminder(v View) string {
	if n := len(s.changes(v)); n > 0 {
		return count(n, "change") + " not saved yet: changes lists, save keeps.\n"
	}
	return "Nothing changed.\n"
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
