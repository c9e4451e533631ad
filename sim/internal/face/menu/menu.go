package menu

import (
	"net/netip"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// MaxTries is the number of failed sign-ins in a row after which the menu closes.
const MaxTries = 3

// View is the card at one moment, as snap.Source shows it.
type View struct {
	Dev *snap.Device
	Now vtime.Tick
	// From is the address that whoever types has in the card's network, invalid at the
	// serial line or where nobody knows it.
	From netip.Addr

	by snap.Actor // whose dialog it is
}

// Output is what a step of the menu wants done, in this order: show Text, have Try
// checked and give the verdict to [State.Tried], or submit Command and give its
// result to [State.Answer], else ask for the next line with Prompt.
type Output struct {
	Text    string        // whole lines, each ending in \n; may be empty
	Try     *Try          // nil: none
	Command *snap.Command // nil: none
	Prompt  string
	Hidden  bool // the next line is a password: do not echo it
	Close   bool // the dialog is over; Prompt and Command are empty
	Locked  bool // with Close: it ended because of MaxTries failed sign-ins
}

// Try is a sign-in to be checked.
type Try struct{ User, Password string }

// stage says which question is open.
type stage uint8

const (
	askUser stage = iota
	askPassword
	askFresh // a password instead of the one on the label
	askFreshAgain
	askWord // the main prompt
	askSetting
	askMode
	askAddress
	askMask
	askGateway
	askUnsaved
	askRestart
	askSure
	askAction
	askConfirm
	askPaste
)

// State is the dialog between two lines. The zero value is not useful: begin
// with [Start] or [Open]. It may be copied freely.
type State struct {
	by           snap.Actor
	stage        stage
	tries        int    // failed sign-ins in a row
	fresh        string // a new password, until it was typed twice
	edits        *edit
	asked        []string // paths of the settings to be asked for, the present one first
	address      addressForm
	form         form
	paste        string   // of an import, so far
	savedEntries []string // of lists, that are being saved
	goal         goal     // what follows once unsaved changes are settled
}

// Start begins a dialog that asks for user and password. By names the surface
// and the peer. Failed sign-ins in a row may be carried over from the dialog
// before (0 to MaxTries-1).
func Start(v View, by snap.Actor, failed int) (State, Output) {
	s := State{by: by, tries: failed}
	return s.ask(v, askUser, banner(v.Dev)+notice(v.Dev)+"Sign in, or type ? for help.\n")
}

// Open begins a dialog for by, who has signed in by other means.
func Open(v View, by snap.Actor) (State, Output) {
	s := State{by: by}
	return s.welcome(v, banner(v.Dev))
}

// By is whose dialog it is, with the role and the session once that began.
func (s State) By() snap.Actor { return s.by }

// Line takes one line that was typed, without its line end.
func (s State) Line(v View, line string) (State, Output) {
	v.by = s.by
	switch s.stage {
	case askUser:
		return s.takeUser(v, line)
	case askPassword:
		return s.takePassword(v, line)
	case askFresh, askFreshAgain:
		return s.takeFresh(v, line)
	case askSetting:
		return s.takeSetting(v, line)
	case askMode:
		return s.takeMode(v, line)
	case askAddress:
		return s.takeAddress(v, line)
	case askMask:
		return s.takeMask(v, line)
	case askGateway:
		return s.takeGateway(v, line)
	case askUnsaved:
		return s.takeUnsaved(v, line)
	case askRestart:
		return s.takeRestart(v, line)
	case askSure:
		return s.takeSure(v, line)
	case askAction:
		return s.takeAnswer(v, line)
	case askConfirm:
		return s.takeConfirm(v, line)
	case askPaste:
		return s.takePaste(v, line)
	default:
		return s.takeWord(v, line)
	}
}

// Answer takes the result of the command in the Output before.
func (s State) Answer(v View, c snap.Command, r snap.Result) (State, Output) {
	v.by = s.by
	switch {
	case r.Status == snap.Gone:
		return s.close("The simulation has ended.\n")
	case c.Op == snap.OpSignIn:
		return s.signedIn(v, r)
	case c.Op == snap.OpNotIt:
		return s.notIt(v, r)
	case s.stage == askFreshAgain:
		return s.refreshed(v, r)
	case r.Status == snap.Busy:
		s.goal = stay
		return s.ask(v, askWord, "The card is busy and did nothing. Try again.\n")
	case c.Op == snap.OpSave && s.form.action == nil:
		return s.saved(v, r)
	case c.Op == snap.OpRestart:
		return s.restarted(v, r)
	default:
		return s.acted(v, r)
	}
}

// Interrupt takes Ctrl-C: it gives up the open question, and nothing else.
func (s State) Interrupt(v View) (State, Output) {
	v.by = s.by
	switch s.stage {
	case askUser, askPassword:
		return s.ask(v, askUser, "")
	case askFresh, askFreshAgain:
		return s.ask(v, askFresh, "")
	case askWord:
		return s.ask(v, askWord, "")
	default:
		s.goal = stay
		return s.ask(v, askWord, "Given up.\n")
	}
}

// End takes Ctrl-D on an empty line: it leaves where the main prompt or the
// sign-in is open, and gives up any other question.
func (s State) End(v View) (State, Output) {
	v.by = s.by
	switch s.stage {
	case askUser, askPassword:
		return s.close("")
	case askFresh, askFreshAgain:
		return s.close("Signed out.\n")
	case askWord:
		return s.leave(v)
	default:
		return s.Interrupt(v)
	}
}

// ask shows text and opens the question of stage.
func (s State) ask(v View, next stage, text string) (State, Output) {
	s.stage = next
	return s, Output{Text: text, Prompt: s.prompt(v), Hidden: s.hides(v)}
}

// hides says whether the answer to the open question is not to be seen.
func (s State) hides(v View) bool {
	switch s.stage {
	case askPassword, askFresh, askFreshAgain:
		return true
	case askSetting:
		ref, err := setting.Find(s.merged(v), s.asked[0])
		return err == nil && ref.Secret
	case askAction:
		return s.form.question().hidden
	}
	return false
}

// again repeats the open question after text.
func (s State) again(v View, text string) (State, Output) { return s.ask(v, s.stage, text) }

// submit hands c, signed by this dialog's user, to the caller.
func (s State) submit(c snap.Command, text string) (State, Output) {
	c.By = s.by
	return s, Output{Text: text, Command: &c}
}

func (s State) close(text string) (State, Output) {
	return s, Output{Text: text, Close: true}
}

func (s State) prompt(v View) string {
	switch s.stage {
	case askUser:
		return "user: "
	case askPassword:
		return "password: "
	case askFresh:
		return "new password: "
	case askFreshAgain:
		return "the same again: "
	case askSetting:
		return s.settingPrompt(v)
	case askMode:
		return "dhcp or fixed [" + string(s.merged(v).Mode) + "]: "
	case askAddress:
		return "address and mask [" + setting.OrNone(s.merged(v).Fixed) + "]: "
	case askMask:
		return "mask [" + s.keptMask(v) + "]: "
	case askGateway:
		return "gateway [" + setting.OrNone(s.merged(v).Gateway) + "]: "
	case askUnsaved:
		return "save, discard or stay [stay]: "
	case askRestart:
		return "type restart to confirm: "
	case askSure:
		return "type yes to save: "
	case askAction:
		return s.form.prompt(v)
	case askPaste:
		return "+ "
	case askConfirm:
		return "type " + s.form.action.word() + " to confirm: "
	}
	if len(s.changes(v)) > 0 {
		return "card (unsaved)> "
	}
	return "card> "
}
