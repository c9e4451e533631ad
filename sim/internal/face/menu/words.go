package menu

import (
	"errors"
	"fmt"
	"strings"

	"github.com/agext/levenshtein"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// word is one word of the main prompt. It has one of read, do, act and acts; one that
// has read and acts reads unless the word after it is a verb.
type word struct {
	name, brief, detail string
	part                part
	// needs is the least role that it takes; NoRole: a viewer's where it reads, an
	// operator's where it acts, an administrator's for the rest.
	needs snap.Role

	read func(v View, args []string) string // only reads
	data func(v View, args []string) any    // the same for programs
	// check is why args of a word that reads are not understood; nil: it takes none.
	// Without a dialog that is a refusal.
	check func(v View, args []string) error
	do    func(s State, v View, args []string, rest string) (State, Output)
	act   *action
	acts  []verb // the word after it says which
}

// verb is one of the actions of a word.
type verb struct {
	name string
	act  *action
}

// role is the least role that w takes.
func (w word) role() snap.Role {
	switch {
	case w.needs != snap.NoRole:
		return w.needs
	case w.read != nil:
		return snap.Viewer
	case w.act != nil:
		return snap.Operator
	}
	return snap.Administrator
}

// follow is w itself, or for a word that both reads and acts the one of both that
// args ask for.
func (w word) follow(args []string) word {
	if w.read == nil || w.acts == nil {
		return w
	}
	if a, _, _ := w.action(args); a == nil {
		w.acts = nil
		return w
	}
	w.read, w.data = nil, nil
	if w.needs == snap.NoRole {
		w.needs = snap.Administrator
	}
	return w
}

// barred says that the dialog's role is not enough for w, "" if it is.
func (w word) barred(v View) string {
	if v.by.Role >= w.role() {
		return ""
	}
	return fmt.Sprintf("%s takes the role %s; yours is %s.\n", w.name, w.role(), v.by.Role)
}

// action is the one that args ask for, and what is left of them; text says what is
// wrong with them.
func (w word) action(args []string) (a *action, rest []string, text string) {
	if w.act != nil {
		return w.act, args, ""
	}
	var names []string
	for _, x := range w.acts {
		if names = append(names, x.name); len(args) > 0 && x.name == strings.ToLower(args[0]) {
			return x.act, args[1:], ""
		}
	}
	return nil, nil, fmt.Sprintf("%s takes one of %s.\n", w.name, strings.Join(names, ", "))
}

// part is where help lists a word: the groups of the settings come between.
type part uint8

const (
	partReading part = iota
	partIdentity
	partReach
	partAccess
	partAlerts
	partShutdown
	partSurroundings
	partUpkeep
	partEditing
	partCount
)

var partTitles = [partCount]string{
	partReading:  "Reading",
	partIdentity: "identity", partReach: "reach", partAccess: "access", partAlerts: "alerts",
	partShutdown: "shutdown", partSurroundings: "surroundings", partUpkeep: "upkeep",
	partEditing: "Editing",
}

// words are filled by register, while the package is set up, in any order.
var words []word

func register(list ...word) { words = append(words, list...) }

// others are words that people try; they mean the word beside them.
var others = map[string]string{"?": "help", "exit": "leave", "quit": "leave", "logout": "leave"}

// shortest is the fewest letters by which a word may be abbreviated.
const shortest = 3

// find is the word that was typed: whole, or as an unmistakable beginning.
func find(typed string) (word, bool) {
	typed = strings.ToLower(typed)
	if meant, ok := others[typed]; ok {
		typed = meant
	}
	var hits []word
	for _, w := range words {
		if w.name == typed {
			return w, true
		}
		if len(typed) >= shortest && strings.HasPrefix(w.name, typed) {
			hits = append(hits, w)
		}
	}
	if len(hits) == 1 {
		return hits[0], true
	}
	return word{}, false
}

// longest is how much of something that is no word is repeated.
const longest = 40

// nearest is the word that typed was probably meant to be, "" if none is near.
func nearest(typed string) string {
	best, name := 3, ""
	for _, w := range words {
		d := levenshtein.Distance(strings.ToLower(typed), w.name, nil)
		if d < best && d < len(w.name)-1 {
			best, name = d, w.name
		}
	}
	return name
}

func unknown(typed string) string {
	if len(typed) > longest {
		typed = typed[:longest] + "..."
	}
	text := fmt.Sprintf("%q is not a word of this menu.", typed)
	if near := nearest(typed); near != "" {
		text += " Did you mean " + near + "?"
	}
	return text + " Type help for the list.\n"
}

// help is the list of words, or about one of them, a group, a list or a setting.
func help(v View, args []string) string {
	if len(args) == 0 {
		return helpAll(v)
	}
	if text := helpSettings(v, strings.ToLower(args[0])); text != "" {
		return text
	}
	w, ok := find(args[0])
	if !ok {
		return unknown(args[0])
	}
	return fmt.Sprintf("%s: %s.\n%s\n", w.name, w.brief, w.detail)
}

// helps is why there is no help for args.
func helps(v View, args []string) error {
	if len(args) == 0 || helpSettings(v, strings.ToLower(args[0])) != "" {
		return nil
	}
	if _, ok := find(args[0]); !ok {
		return errors.New(strings.TrimSuffix(unknown(args[0]), ".\n"))
	}
	return nil
}

// helpAll lists what the dialog's role allows.
func helpAll(v View) string {
	var b strings.Builder
	for p, title := range partTitles {
		var lines string
		for _, w := range words {
			if w.part == part(p) && w.barred(v) == "" {
				lines += fmt.Sprintf("  %-13s %s\n", w.name, w.brief)
			}
		}
		if g, ok := setting.GroupByName(title); ok {
			title += ": " + g.Brief()
		}
		if lines != "" {
			b.WriteString(title + "\n" + lines)
		}
	}
	b.WriteString("The first letters of a word are enough. ? at any question explains it, Ctrl-C gives it up.\n")
	return b.String()
}

// helpSettings is about settings at or under a word, "" if there are none.
func helpSettings(v View, word string) string {
	var b strings.Builder
	for _, l := range setting.Lists() {
		if l.Path == word || l.Group.String() == word {
			b.WriteString(l.Path + ": " + l.Help)
			if l.Fixed == "" {
				fmt.Fprintf(&b, " Up to %d. add %s NAME makes one.", l.Max, l.Path)
			}
			b.WriteString("\n")
		}
		if l.Path == word {
			for _, c := range l.Columns {
				fmt.Fprintf(&b, "  %s: %s Type %s.\n", c.Path, c.Help, c.Takes)
			}
		}
	}
	for _, ref := range setting.Every(&v.Dev.Card.Saved) {
		if ref.Path == word || strings.HasPrefix(ref.Path, word+".") {
			fmt.Fprintf(&b, "%s: %s Type %s.\n", ref.Path, ref.Help, ref.Takes)
		}
	}
	return b.String()
}

// answer is what a word reads, as text or, with --json, as data.
func (w word) answer(v View, args []string) string {
	rest, asJSON := option(args, "--json")
	switch meant, err := w.meant(rest), w.misread(v, rest); {
	case meant.barred(v) != "":
		return meant.barred(v)
	case err != nil:
		return ended(err.Error())
	case !asJSON || w.data == nil:
		return w.read(v, args)
	}
	data := w.data(v, rest)
	if err, wrong := data.(error); wrong {
		return sentence(err.Error())
	}
	return inJSON(data)
}

// misread is why the arguments of a word that reads are not understood.
func (w word) misread(v View, args []string) error {
	meant := w.meant(args)
	if w.name == "show" && meant.name != "show" {
		args = args[1:]
	}
	switch {
	case meant.read == nil:
		return nil
	case meant.check != nil:
		return meant.check(v, args)
	case len(args) > 0:
		return meant.tooMuch(args[0])
	}
	return nil
}

// tooMuch says what could stand there instead of arg.
func (w word) tooMuch(arg string) error {
	w, _ = find(w.name) // with its verbs
	if len(w.acts) == 0 {
		return fmt.Errorf("%s takes nothing behind it; not %q", w.name, arg)
	}
	_, _, verbs := w.action(nil)
	return fmt.Errorf("%s, or nothing; not %q", strings.TrimSuffix(verbs, ".\n"), arg)
}

// meant is the word that show shows, else w itself.
func (w word) meant(args []string) word {
	if w.name == "show" && len(args) > 0 {
		if shown, ok := find(args[0]); ok && shown.read != nil {
			return shown
		}
	}
	return w
}

func (s State) takeWord(v View, line string) (State, Output) {
	parts := strings.Fields(line)
	if len(parts) == 0 {
		return s.again(v, "")
	}
	w, ok := find(parts[0])
	if _, group := setting.GroupByName(strings.ToLower(parts[0])); group && !ok {
		return s.again(v, show(v, parts))
	}
	if !ok {
		return s.again(v, unknown(parts[0]))
	}
	w = w.follow(parts[1:])
	if text := w.barred(v); text != "" {
		return s.again(v, text)
	}
	rest := strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(line), parts[0]))
	switch {
	case w.read != nil:
		return s.again(v, w.answer(v, parts[1:]))
	case w.act != nil, w.acts != nil:
		a, args, text := w.action(parts[1:])
		if a == nil {
			return s.again(v, text)
		}
		return s.act(v, a, args)
	}
	return w.do(s, v, parts[1:], rest)
}
