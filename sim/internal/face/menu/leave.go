package menu

import (
	"strings"

	"ridethrough/sim/internal/core/snap"
)

// goal is what a question about unsaved changes stands in the way of.
type goal uint8

const (
	stay goal = iota
	goLeave
	goRestart
)

const restartNotice = `The card restarts with the settings in its memory. This and every other session
ends, and nothing answers on any line until the card is back. The output of the
UPS is not touched: the load stays as it is.
`

func (s State) leave(v View) (State, Output)   { return s.want(v, goLeave) }
func (s State) restart(v View) (State, Output) { return s.want(v, goRestart) }

// want goes for g, by way of a question if something is edited and not saved.
func (s State) want(v View, g goal) (State, Output) {
	s.goal = g
	if len(s.changes(v)) == 0 {
		return s.pursue(v, "")
	}
	return s.ask(v, askUnsaved, "Not saved:\n"+s.listChanges(v))
}

// pursue does what the goal asks once nothing stands in its way.
func (s State) pursue(v View, text string) (State, Output) {
	g := s.goal
	s.goal = stay
	if g == goRestart {
		return s.ask(v, askRestart, text+restartNotice)
	}
	return s.close(text + "Signed out.\n")
}

func (s State) takeUnsaved(v View, line string) (State, Output) {
	switch strings.ToLower(strings.TrimSpace(line)) {
	case "save":
		return s.save(v)
	case "discard":
		s.edits = nil
		return s.pursue(v, "")
	case "stay", "":
		s.goal = stay
		return s.ask(v, askWord, "")
	case "?":
		return s.again(v, "save writes the changes to the card's memory, discard forgets them, stay goes back.\n")
	}
	return s.again(v, "Type save, discard or stay.\n")
}

func (s State) takeRestart(v View, line string) (State, Output) {
	switch strings.ToLower(strings.TrimSpace(line)) {
	case "restart":
		return s.submit(snap.Command{Op: snap.OpRestart}, "")
	case "?":
		return s.again(v, restartNotice+"Anything but the word restart goes back.\n")
	}
	return s.ask(v, askWord, "Not restarted.\n")
}

func (s State) restarted(v View, r snap.Result) (State, Output) {
	if r.Status != snap.Done {
		return s.ask(v, askWord, "Not restarted: "+reason(r)+".\n")
	}
	return s.close("The card restarts now.\n")
}
