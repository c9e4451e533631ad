package menu

import (
	"cmp"
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/backup"
	"ridethrough/sim/internal/core/image"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

func init() {
	register(
		word{name: "export", brief: "settings as text (TOML), to keep or to carry to another card", part: partUpkeep,
			detail: "No secret is in it, and not what the card is: a secret that is set stands as \"" + backup.Kept + "\".\nOver SSH: ssh CARD export > FILE.",
			read:   plain(export)},
		word{name: "import", brief: "edit settings from the text of an export", part: partUpkeep,
			detail: "Paste the text; a line with nothing but a full stop ends it. What it changes is edited only:\nchanges lists it, save keeps it. What the text does not name stays, and so do secrets. Of another\ncard's text the name and the address of that card are left out. Over SSH: ssh CARD import < FILE.",
			do:     func(s State, v View, _ []string, _ string) (State, Output) { return s.openImport(v) }},
		word{name: "reset", brief: "take the card back to the factory's state", part: partUpkeep,
			detail: "reset settings, reset accounts (and settings), or reset all (journals and keys too).\nIdentity, the count of starts and what is set on the UPS itself stay.",
			needs:  snap.Administrator, act: &reset},
	)
}

func export(v View) string {
	return backup.Export(v.Dev.Card.Identity.SerialNumber, &v.Dev.Card.Saved)
}

const importHelp = "Paste the text of an export. A line with nothing but a full stop ends it, Ctrl-C gives up.\n"

func (s State) openImport(v View) (State, Output) {
	s.paste = ""
	return s.ask(v, askPaste, importHelp)
}

// takePaste takes one line of the text.
func (s State) takePaste(v View, line string) (State, Output) {
	if strings.TrimSpace(line) != "." {
		if len(s.paste)+len(line) > backup.MaxSize {
			return s.ask(v, askWord, fmt.Sprintf("That is more than %d characters: nothing was taken.\n", backup.MaxSize))
		}
		s.paste += line + "\n"
		return s.again(v, "")
	}
	text := s.paste
	s.paste = ""
	left, err := s.take(v, text)
	if err != nil {
		return s.ask(v, askWord, "Nothing was taken: "+ended(err.Error()))
	}
	return s.ask(v, askWord, left+s.reminder(v))
}

// take edits what the text of an export says, all of it or nothing, and says what
// it leaves out.
func (s *State) take(v View, text string) (left string, err error) {
	f, err := backup.Read("text", []byte(text))
	if err != nil {
		return "", err
	}
	edits, notes, err := f.Edits(s.merged(v), v.Dev.Card.Identity.SerialNumber)
	if err != nil {
		return "", err
	}
	for _, e := range edits {
		s.edits = &edit{before: s.edits, verb: e.Verb, path: e.Path, value: e.Value}
	}
	for _, n := range notes {
		left += "Left as it is: " + n + ".\n"
	}
	return left, nil
}

// TakesText says whether a command line takes something from its standard input,
// which [OnceWith] is given, and how many octets at most.
func TakesText(line string) (most int, takes bool) {
	args, err := split(line)
	if err != nil || len(args) == 0 {
		return 0, false
	}
	if loadsImage(args) {
		return image.MaxSize, true
	}
	if bySecrets(args) {
		return mostSecrets, true
	}
	w, ok := find(args[0])
	return backup.MaxSize, ok && w.name == "import"
}

// OnceWith is [Once] for a line that takes a text.
func OnceWith(v View, by snap.Actor, line, text string) Reply {
	args, err := split(line)
	if err != nil {
		return refused(sentence(err.Error()))
	}
	v.by = by
	if w, _ := find(args[0]); mustChange(v) && (loadsImage(args) || !bySecrets(args)) || w.barred(v) != "" {
		return refused(cmp.Or(w.barred(v), changeFirst))
	}
	args, asJSON := option(args, "--json")
	args, confirmed := option(args, "--confirm")
	r := once{v: v, by: by, args: args[1:], confirmed: confirmed}.given(args, text)
	if asJSON {
		r = r.program()
	}
	return r
}

// given takes the text of an image or of an export.
func (o once) given(args []string, text string) Reply {
	v, by := o.v, o.by
	if bySecrets(args) && !loadsImage(args) {
		return o.withSecrets(args, text)
	}
	if loadsImage(args) {
		if role := snap.Administrator; by.Role < role {
			return refused(fmt.Sprintf("firmware load takes the role %s; yours is %s.\n", role, by.Role))
		}
		return o.load(text)
	}
	if len(args) != 1 {
		return refused("import takes nothing but a text on its standard input.\n")
	}
	s := State{by: by}
	left, err := s.take(v, text)
	if err != nil {
		return refused("Nothing was taken: " + ended(err.Error()))
	}
	r := o.save(s)
	if after := r.after; after != nil {
		r.after = func(v View) string { return left + after(v) }
		return r
	}
	r.Text = left + r.Text
	return r
}

// reset is the way back to the factory's state.
var reset = action{
	ask: []question{{
		label: "settings, accounts or all",
		help:  "settings: what is set, as the card came. accounts: settings, and the accounts. all: journals and keys too.",
		check: func(_ View, _ []string, answer string) (string, error) {
			level := strings.ToLower(answer)
			if _, ok := resets[level]; !ok {
				return "", fmt.Errorf("%q is no level of a reset: settings, accounts or all", answer)
			}
			return level, nil
		},
	}},
	caution: func(v View, given []string) string { return resetCaution(v, given[0]) },
	confirm: "reset",
	command: func(_ View, given []string) snap.Command { return snap.Command{Op: snap.OpReset, Text: given[0]} },
	done:    func(View, []string) string { return "The card goes back to the factory's state and restarts now.\n" },
	closes:  true,
}

// resets are what each level takes away, beside what the one before does.
var resets = map[string]string{
	"settings": "The settings go, network address and communities among them: the card may not be\nreachable over the network any more. Be at its serial line, and export first.\n",
	"accounts": "The accounts go: the card takes the user and the password on its label again, so that\neverybody who knows that can sign in. Take it off the network until they are changed.\n",
	"all":      "The journals go, with what they prove, and so does the key by which SSH clients know\nthe card. Save the journals first.\n",
}

func resetCaution(v View, level string) string {
	text := "CAUTION\n"
	for _, l := range []string{"settings", "accounts", "all"} {
		text += resets[l]
		if l == level {
			break
		}
	}
	if n := len(setting.Diff(&v.Dev.Card.Settings, &v.Dev.Card.Saved)); n > 0 {
		text += count(n, "saved setting") + " never came into force.\n"
	}
	return text + restartNotice
}
