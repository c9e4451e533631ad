package menu

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/setting"
)

const keeps = "Enter keeps what is in brackets."

// guide asks for settings one after the other.
func (s State) guide(v View, text string, paths ...string) (State, Output) {
	s.asked = slices.Insert(paths, 0, "")
	return s.nextSetting(v, text)
}

// nextSetting opens the question after the present one.
func (s State) nextSetting(v View, text string) (State, Output) {
	m := s.merged(v)
	for len(s.asked) > 1 {
		s.asked = s.asked[1:]
		ref, err := setting.Find(m, s.asked[0])
		if err == nil && (ref.Asked == nil || ref.Asked(m)) {
			return s.ask(v, askSetting, text)
		}
	}
	s.asked = nil
	return s.ask(v, askWord, text+s.reminder(v))
}

func (s State) settingPrompt(v View) string {
	m := s.merged(v)
	ref, err := setting.Find(m, s.asked[0])
	if err != nil { // its entry was removed by somebody else
		return s.asked[0] + ": "
	}
	present := ref.Show(m)
	if ref.Text && !ref.Secret {
		present = printable(ref.Get(m)) // SNMP writes more than a terminal
	}
	label := ref.Label
	if ref.Entry != "" {
		label = ref.Entry + ": " + label
	}
	if ref.Words != nil {
		label += ", " + strings.Join(ref.Words, " or ")
	}
	return label + " [" + present + "]: "
}

func (s State) takeSetting(v View, line string) (State, Output) {
	ref, err := setting.Find(s.merged(v), s.asked[0])
	if err != nil {
		return s.nextSetting(v, sentence(err.Error()))
	}
	value := strings.TrimSpace(line)
	switch {
	case value == "?":
		return s.again(v, explain(ref))
	case value == "":
		return s.nextSetting(v, "")
	case value == "-" && ref.Text:
		value = ""
	}
	if err := s.put(v, s.asked[0], value); err != nil {
		return s.again(v, sentence(err.Error()))
	}
	return s.nextSetting(v, "")
}

// explain is the help of a setting at its question.
func explain(ref setting.Ref) string {
	text := fmt.Sprintf("%s: %s\nType %s. %s", ref.Path, ref.Help, ref.Takes, keeps)
	if ref.Text {
		text += " - empties it."
	}
	if ref.Caution != "" {
		text += "\nCAUTION: " + ref.Caution
	}
	return text + "\n"
}

// sentence makes a reason a line of its own.
func sentence(reason string) string { return ended(strings.ToUpper(reason[:1]) + reason[1:]) }

// ended is a reason as the end of a line.
func ended(reason string) string {
	reason = lines(reason)
	if strings.HasSuffix(reason, "?") {
		return reason + "\n"
	}
	return reason + ".\n"
}

// edit steps through a group, an entry of a list or one setting.
func (s State) edit(v View, args []string) (State, Output) {
	if len(args) != 1 {
		return s.again(v, "Type edit and what: a group such as reach, or a path such as reach.gateway.\n")
	}
	paths := s.under(v, args[0])
	if len(paths) == 0 {
		return s.again(v, s.nothingAt(v, args[0]))
	}
	return s.guide(v, keeps+" ? explains the question, Ctrl-C gives up.\n", paths...)
}

// under are the paths of the settings at or under a word.
func (s State) under(v View, word string) []string {
	var paths []string
	word = strings.ToLower(word)
	for _, ref := range setting.Every(s.merged(v)) {
		if ref.Path == word || strings.HasPrefix(ref.Path, word+".") {
			paths = append(paths, ref.Path)
		}
	}
	return paths
}

// nothingAt says that there is no setting at or under a word.
func (s State) nothingAt(v View, word string) string {
	if l, err := setting.FindList(word); err == nil {
		return fmt.Sprintf("There is no %s yet: add %s NAME makes one.\n", l.Label, l.Path)
	}
	if g, ok := setting.GroupByName(word); ok {
		return fmt.Sprintf("There is nothing to set yet in %s.\n", g)
	}
	if near := nearest(word); near != "" && !strings.Contains(word, ".") {
		return fmt.Sprintf("There is no setting %q. Did you mean %s?\n", word, near)
	}
	return sentence(s.noSetting(v, word).Error())
}

// noSetting is why there is no setting of that path, and what to do.
func (s State) noSetting(v View, path string) error {
	path = strings.ToLower(path)
	_, err := setting.Find(s.merged(v), path)
	if err == nil || strings.HasSuffix(err.Error(), "?") {
		return err
	}
	for _, l := range setting.Lists() {
		name, _, _ := strings.Cut(strings.TrimPrefix(path, l.Path+"."), ".")
		if strings.HasPrefix(path, l.Path+".") && l.Fixed == "" && !slices.Contains(l.Names(s.merged(v)), name) {
			return fmt.Errorf("%w: add %s %s makes one", err, l.Path, name)
		}
	}
	group, _, _ := strings.Cut(path, ".")
	if g, ok := setting.GroupByName(group); ok && strings.HasPrefix(err.Error(), "there is no setting") {
		return fmt.Errorf("%w: show %s lists what there is", err, g)
	}
	return err
}

// set edits one setting in one line.
func (s State) set(v View, line string) (State, Output) {
	path, value, ok := strings.Cut(strings.TrimSpace(line), " ")
	if !ok || path == "" || strings.Contains(path, "=") { // which may be followed by a secret
		return s.again(v, "Type set, a path and a value: set reach.gateway 192.0.2.1, or set identity.name - to empty it.\n")
	}
	if err := s.put(v, path, unquoted(value)); err != nil {
		return s.again(v, sentence(err.Error()))
	}
	return s.again(v, s.reminder(v))
}

// unquoted is a value as set takes it: quotes around it are not part of it, and -
// alone is an empty text.
func unquoted(value string) string {
	value = strings.TrimSpace(value)
	if value == "-" {
		return ""
	}
	if n := len(value); n >= 2 && value[0] == '"' && value[n-1] == '"' {
		return value[1 : n-1]
	}
	return value
}
