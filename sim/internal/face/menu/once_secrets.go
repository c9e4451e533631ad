package menu

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"ridethrough/sim/internal/core/snap"
)

// fromInput is the option by which the secrets that a word asks for stand on the standard
// input, one on a line and each once: they do not belong on a command line.
const fromInput = "--stdin"

// mostSecrets is how many octets of them are read.
const mostSecrets = 4096

// bySecrets says whether a command line has its secrets on the standard input.
func bySecrets(args []string) bool { return slices.Index(args, fromInput) > 0 }

// withSecrets is Once for a line whose secrets are text.
func (o once) withSecrets(args []string, text string) Reply {
	args, _ = option(args, fromInput)
	w, ok := find(args[0])
	w = w.follow(args[1:])
	o.args = args[1:]
	if a, _, _ := w.action(o.args); ok && (a == nil || !a.asksSecret()) {
		return refused(fmt.Sprintf("This asks for no secret, so that %s is out of place; help %s tells what it takes.\n", fromInput, w.name))
	}
	var err error
	if o.secrets, err = secretsOf(text); err != nil {
		return refused(sentence(err.Error()))
	}
	return o.word(w, ok, args[0], false)
}

func (a *action) asksSecret() bool {
	return slices.ContainsFunc(a.ask, func(q question) bool { return q.hidden })
}

// secretsOf are the lines of text, never nil.
func secretsOf(text string) ([]string, error) {
	if len(text) > mostSecrets {
		return nil, fmt.Errorf("there are more than %d octets on the standard input: expected a line for each secret", mostSecrets)
	}
	list := []string{}
	for line := range strings.Lines(text) {
		line = strings.TrimSuffix(strings.TrimSuffix(line, "\n"), "\r")
		if strings.ContainsFunc(line, func(r rune) bool { return !unicode.IsPrint(r) || r == unicode.ReplacementChar }) {
			return nil, fmt.Errorf("line %d of the standard input has characters that nobody can type", len(list)+1)
		}
		list = append(list, line)
	}
	return list, nil
}

// secretly answers questions after secrets with what stands on the standard input.
func (o once) secretly(f form) (form, error) {
	left := o.secrets
	for o.secrets != nil && len(f.given) < len(f.action.ask) && f.question().hidden {
		answer, q := "", f.question()
		switch {
		case q.again:
			answer = f.given[len(f.given)-1]
		case len(left) == 0:
			return f, fmt.Errorf("the standard input has no line for the %s: %s", q.label, strings.TrimSuffix(q.onInput(), "."))
		default:
			answer, left = left[0], left[1:]
		}
		var err error
		if f, err = f.with(o.v, answer); err != nil {
			return f, err
		}
	}
	if len(left) > 0 {
		return f, errors.New("the standard input has more lines than it asks for secrets")
	}
	return f, nil
}

// onInput is what to do about a secret that is missing.
func (q question) onInput() string {
	return "it does not belong on a command line: open a session without a command, or give it on the standard input with " + fromInput + "."
}

// keyless is a reason without the keys that a dialog would offer.
func keyless(err error) string {
	text, _, _ := strings.Cut(err.Error(), ". Ctrl-C")
	text, _, _ = strings.Cut(text, ", or Ctrl-C")
	return text
}

// notIt has the card told of a wrong present password.
func (o once) notIt() Reply {
	r := o.submit(snap.Command{Op: snap.OpNotIt}, func(View) string { return sentence(errNotIt.Error()) })
	r.fails = true
	return r
}
