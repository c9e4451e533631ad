package menu

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// Reply is what one command line comes to: Text, and whether it went well; or a
// Command to submit, whose result [Reply.After] turns into the reply.
type Reply struct {
	Text    string
	OK      bool
	Amiss   bool // with OK: it was done, and found something wrong, as a ping without an answer
	Command *snap.Command
	told    func(snap.Result) string // instead of after
	after   func(v View) string
	fails   bool // what is submitted tells of a failure
}

// program is the reply as programs get it where something was done.
func (r Reply) program() Reply {
	say := func(text string) string {
		return inJSON(map[string]any{"done": true, "says": strings.TrimSuffix(text, "\n")})
	}
	switch told, after := r.told, r.after; {
	case r.Command == nil && !r.OK, r.fails: // a refusal is for people, and a code
	case r.Command == nil:
		r.Text = say(r.Text)
	case told != nil:
		r.told = func(result snap.Result) string { return say(told(result)) }
	default:
		r.after = func(v View) string { return say(after(v)) }
	}
	return r
}

// After is the reply once the command was carried out, with the card as it then is.
func (r Reply) After(v View, result snap.Result) Reply {
	if result.Status != snap.Done {
		return refused("Not done: " + reason(result) + ".\n")
	}
	if r.told != nil {
		return Reply{Text: r.told(result), OK: true, Amiss: result.Amiss}
	}
	return Reply{Text: r.after(v), OK: !r.fails}
}

func reason(r snap.Result) string {
	switch r.Status {
	case snap.Busy:
		return "the card is busy, try again"
	case snap.Gone:
		return "the simulation has ended"
	}
	return r.Reason
}

// Once takes one line without a dialog, such as one given on an SSH command line:
// a word that reads, set, add or remove, which save at once, or a word that acts.
// The option --json gives data for programs, --confirm stands for the answer to
// a caution.
func Once(v View, by snap.Actor, line string) Reply {
	args, err := split(line)
	if err != nil {
		return refused(sentence(err.Error()))
	}
	v.by = by
	args, asJSON := option(args, "--json")
	args, confirmed := option(args, "--confirm")
	if len(args) == 0 {
		return refused("Nothing to do.\n")
	}
	w, ok := find(args[0])
	w = w.follow(args[1:])
	r := once{v: v, by: by, args: args[1:], confirmed: confirmed}.word(w, ok, args[0], asJSON)
	if asJSON && w.read == nil {
		r = r.program()
	}
	return r
}

// word does what a word stands for.
func (o once) word(w word, ok bool, typed string, asJSON bool) Reply {
	v := o.v
	switch {
	case mustChange(v) && !(w.name == "password" && o.secrets != nil):
		return refused(whyChange(v))
	case !ok:
		return refused(unknown(typed))
	case w.barred(v) != "":
		return refused(w.barred(v))
	case w.meant(o.args).barred(v) != "":
		return refused(w.meant(o.args).barred(v))
	case w.misread(v, o.args) != nil:
		return refused(ended(w.misread(v, o.args).Error()))
	case w.read != nil && asJSON:
		return o.data(w)
	case w.read != nil:
		return Reply{Text: w.read(v, o.args), OK: true}
	case w.act != nil, w.acts != nil:
		a, rest, text := w.action(o.args)
		if a == nil {
			return refused(text)
		}
		o.args = rest
		return o.act(a)
	case w.name == "set":
		return o.set()
	case w.name == "add", w.name == "remove":
		return o.entry(w.name)
	case w.name == "restart":
		return o.restart()
	case w.name == "import":
		return refused("import takes a text on its standard input.\n")
	}
	return refused(fmt.Sprintf("%s needs a dialog: open a session without a command.\n", w.name))
}

const (
	mendPassword = "open a session without a command, or give password " + fromInput + " the present one and another one, each on a line.\n"
	changeFirst  = "The password has to be changed first: " + mendPassword
	expiredOne   = "The password has expired: sign in with a public key, or choose another password: " + mendPassword
)

// whyChange says why nothing else is taken.
func whyChange(v View) string {
	if v.Dev.Card.Session(v.by.Session).Expired {
		return expiredOne
	}
	return changeFirst
}

// mustChange says whether the session begins with another password.
func mustChange(v View) bool {
	x := v.Dev.Card.Session(v.by.Session)
	return x != nil && x.MustChange
}

func refused(text string) Reply { return Reply{Text: lines(text)} }

type once struct {
	v         View
	by        snap.Actor
	args      []string
	confirmed bool
	secrets   []string // that it asks for; nil: none are given
}

func (o once) data(w word) Reply {
	if w.data == nil {
		return refused(fmt.Sprintf("%s has no --json.\n", w.name))
	}
	return Reply{Text: inJSON(w.data(o.v, o.args)), OK: true}
}

func inJSON(data any) string {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(data); err != nil {
		panic("menu: " + err.Error()) // all of it is plain data
	}
	return b.String()
}

// set takes a path and a value, or any number of path=value, and saves.
func (o once) set() Reply {
	s := State{by: o.by}
	pairs, err := pairsOf(o.args)
	for _, p := range pairs {
		if err == nil {
			err = s.put(o.v, p[0], p[1])
		}
	}
	if err != nil {
		return refused(sentence(err.Error()))
	}
	return o.save(s)
}

// pairsOf are paths and values. What does not fit is not repeated: it may be a part of
// a secret.
func pairsOf(args []string) ([][2]string, error) {
	if len(args) == 2 && !strings.Contains(args[0], "=") {
		return [][2]string{{args[0], unquoted(args[1])}}, nil
	}
	var pairs [][2]string
	for i, a := range args {
		path, value, ok := strings.Cut(a, "=")
		if !ok {
			return nil, fmt.Errorf("%s: expected a path and a value, or path=value for each, in quotes if there are blanks in it", nth(i, len(args)))
		}
		pairs = append(pairs, [2]string{path, unquoted(value)})
	}
	if len(pairs) == 0 {
		return nil, fmt.Errorf("nothing to set: expected a path and a value, or path=value for each")
	}
	return pairs, nil
}

// nth is where on a line something is that does not fit, and may be a part of a secret.
func nth(i, of int) string {
	if of == 1 {
		return "there is no value"
	}
	return fmt.Sprintf("there is no = in part %d of %d", i+1, of)
}

// entry adds an entry to a list, with name=value for its settings, or removes one.
func (o once) entry(verb string) Reply {
	list, text := listOf(o.args[:min(2, len(o.args))], verb)
	if list == nil {
		return refused(text)
	}
	s, name := State{by: o.by}, strings.ToLower(o.args[1])
	if err := s.change(o.v, verb, list.Path, name); err != nil {
		return refused(sentence(err.Error()))
	}
	if len(o.args) > 2 {
		pairs, err := pairsOf(o.args[2:])
		for _, p := range pairs {
			if err == nil {
				err = s.put(o.v, list.Path+"."+name+"."+p[0], p[1])
			}
		}
		if err != nil {
			return refused(sentence(err.Error()))
		}
	}
	return o.save(s)
}

func (o once) save(s State) Reply {
	changes, m := s.changes(o.v), s.merged(o.v)
	if len(changes) == 0 {
		return Reply{Text: "Nothing changed.\n", OK: true}
	}
	if err := setting.Check(&o.v.Dev.Card.Saved, m); err != nil {
		return refused("Not saved: " + err.Error() + ".\n")
	}
	if text := cautions(o.v, changes, m); text != "" && !o.confirmed {
		return refused(text + "Not saved: --confirm says that this is meant.\n")
	}
	return o.submit(snap.Command{Op: snap.OpSave, Settings: m, Revision: o.v.Dev.Card.Revision}, func(v View) string {
		return savedText(v, setting.EntriesIn(changes))
	})
}

func (o once) restart() Reply {
	if !o.confirmed {
		return refused(restartNotice + "Not restarted: --confirm says that this is meant.\n")
	}
	return o.submit(snap.Command{Op: snap.OpRestart}, func(View) string { return "The card restarts now.\n" })
}

// act gives all answers of an action on the line.
func (o once) act(a *action) Reply {
	f := form{action: a}
	for _, arg := range o.args {
		if len(f.given) == len(a.ask) {
			return refused(fmt.Sprintf("%q is more than it asks for.\n", arg))
		}
		if q := f.question(); q.hidden {
			return refused("It asks for the " + q.label + ": " + q.onInput() + "\n")
		}
		var err error
		if f, err = f.with(o.v, arg); err != nil {
			return refused(sentence(err.Error()))
		}
	}
	f, err := o.secretly(f)
	switch {
	case errors.Is(err, errNotIt):
		return o.notIt()
	case err != nil:
		return refused(sentence(keyless(err)))
	case len(f.given) < len(a.ask) && f.question().hidden:
		return refused("It also asks for the " + f.question().label + ": " + f.question().onInput() + "\n")
	case len(f.given) < len(a.ask):
		return refused("It also asks for " + f.question().label + ": " + f.question().help + "\n")
	}
	if why := a.barred(o.v, f.given); why != "" {
		return refused("Not done: " + why + ".\n")
	}
	if text := a.warns(o.v, f.given); text != "" && !o.confirmed {
		return refused(text + "Nothing was done: --confirm says that this is meant.\n")
	}
	if a.reply != nil {
		r := o.submit(a.command(o.v, f.given), nil)
		r.told = a.reply
		return r
	}
	return o.submit(a.command(o.v, f.given), func(v View) string { return a.done(v, f.given) })
}

func (o once) submit(c snap.Command, after func(View) string) Reply {
	c.By = o.by
	return Reply{Command: &c, after: after}
}

// option takes an option out of args.
func option(args []string, name string) ([]string, bool) {
	i := slices.Index(args, name)
	if i < 0 {
		return args, false
	}
	return slices.Delete(slices.Clone(args), i, i+1), true
}

// split takes a line apart at blanks; what stands in double quotes is whole.
func split(line string) ([]string, error) {
	var args []string
	var b strings.Builder
	quoted, begun := false, false
	for _, r := range line {
		switch {
		case r == '"':
			quoted, begun = !quoted, true
		case !quoted && (r == ' ' || r == '\t'):
			if begun {
				args = append(args, b.String())
			}
			b.Reset()
			begun = false
		default:
			b.WriteRune(r)
			begun = true
		}
	}
	if quoted {
		return nil, fmt.Errorf("a quotation mark is not closed")
	}
	if begun {
		args = append(args, b.String())
	}
	return args, nil
}
