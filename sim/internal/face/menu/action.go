package menu

import (
	"errors"
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

// action is a word that does something at once, after some questions.
type action struct {
	ask []question
	// bars says why it cannot be done as things are, "" if it can; nil: the card says.
	// Who gets nothing done is shown no caution.
	bars func(v View, given []string) string
	// caution says what it does to the load, to sessions or to people; empty: it
	// needs no confirmation. given are the answers, in order.
	caution func(v View, given []string) string
	confirm string // has to be typed after a caution
	command func(v View, given []string) snap.Command
	done    func(v View, given []string) string // after it was done; whole lines
	reply   func(r snap.Result) string          // instead of done: what the card answers
	closes  bool                                // the dialog ends with it
}

// barred says why a cannot be done, "" if nothing is known to be in its way.
func (a *action) barred(v View, given []string) string {
	if a.bars == nil {
		return ""
	}
	return a.bars(v, given)
}

// question is one of an action.
type question struct {
	label, help string
	hidden      bool   // a secret
	again       bool   // the same once more, for fingers that slip
	kept        string // what Enter stands for; empty: Enter is no answer
	// check is the answer as it counts, and why it cannot be accepted.
	check func(v View, given []string, answer string) (string, error)
}

// form is an action under way.
type form struct {
	action *action
	given  []string
}

func (f form) question() question { return f.action.ask[len(f.given)] }

func (f form) prompt(View) string {
	q := f.question()
	if q.kept != "" {
		return q.label + " [" + q.kept + "]: "
	}
	return q.label + ": "
}

// with is f after one more answer; the error says why that is none.
func (f form) with(v View, answer string) (form, error) {
	q := f.question()
	if answer == "" {
		answer = q.kept
	}
	if q.check != nil {
		var err error
		if answer, err = q.check(v, f.given, answer); err != nil {
			return f, err
		}
	}
	f.given = append(f.given[:len(f.given):len(f.given)], answer)
	return f, nil
}

// act begins an action; args answer its first questions.
func (s State) act(v View, a *action, args []string) (State, Output) {
	s.form = form{action: a}
	for _, arg := range args {
		if len(s.form.given) == len(a.ask) || s.form.question().hidden {
			return s.ask(v, askWord, "That is more than it asks for.\n")
		}
		var err error
		if s.form, err = s.form.with(v, arg); err != nil {
			return s.ask(v, askWord, sentence(err.Error()))
		}
	}
	return s.nextAnswer(v)
}

func (s State) nextAnswer(v View) (State, Output) {
	a, given := s.form.action, s.form.given
	if len(given) < len(a.ask) {
		return s.ask(v, askAction, "")
	}
	if why := a.barred(v, given); why != "" {
		s.form = form{}
		return s.ask(v, askWord, "Not done: "+why+".\n")
	}
	if text := a.warns(v, given); text != "" {
		return s.ask(v, askConfirm, text)
	}
	return s.submit(a.command(v, given), "")
}

func (s State) takeAnswer(v View, line string) (State, Output) {
	q := s.form.question()
	answer := line
	if !q.hidden {
		answer = strings.TrimSpace(line)
	}
	if answer == "?" { // which is too short for a password
		return s.again(v, q.help+"\n")
	}
	if answer == "" && q.kept == "" {
		return s.again(v, "There is nothing to keep: type an answer, or Ctrl-C to give up.\n")
	}
	f, err := s.form.with(v, answer)
	if errors.Is(err, errNotIt) {
		return s.submit(snap.Command{Op: snap.OpNotIt}, "")
	}
	if err != nil {
		return s.again(v, sentence(err.Error()))
	}
	s.form = f
	return s.nextAnswer(v)
}

func (s State) takeConfirm(v View, line string) (State, Output) {
	a := s.form.action
	switch strings.ToLower(strings.TrimSpace(line)) {
	case a.word():
		return s.submit(a.command(v, s.form.given), "")
	case "?":
		return s.again(v, a.warns(v, s.form.given)+fmt.Sprintf("Type %s to do it. Anything else goes back, and nothing is done.\n", a.word()))
	}
	return s.ask(v, askWord, "Nothing was done.\n")
}

// acted tells how an action went.
func (s State) acted(v View, r snap.Result) (State, Output) {
	a, given := s.form.action, s.form.given
	s.form = form{}
	switch {
	case r.Status != snap.Done:
		return s.ask(v, askWord, "Not done: "+reason(r)+".\n")
	case a.reply != nil:
		return s.ask(v, askWord, a.reply(r))
	case a.closes:
		return s.close(a.done(v, given))
	}
	return s.ask(v, askWord, a.done(v, given))
}
