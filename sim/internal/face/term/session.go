package term

import (
	"context"
	"fmt"
	"io"
	"net/netip"
	"strings"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/menu"
)

// watchEvery is how often a session looks whether its card still runs.
const watchEvery = 100 * time.Millisecond

// Options say what a session is like.
type Options struct {
	Source snap.Source
	By     snap.Actor // surface and peer; user, role and session too if SignedIn

	SignedIn bool // By has signed in by other means, and signs out by them
	// Verify asks who knows users; nil: the card's own accounts alone.
	Verify  Verify
	Network bool // the line needs the card's network address
	Plain   bool // no terminal at the other end: no echo, lines end in \n
	// From, if not nil, is the address that the other end has in the card's network.
	From func() netip.Addr
	// Wake keeps the line silent until a first line end arrives, as on a serial
	// line, where nothing tells the card that a terminal was connected.
	Wake bool
	// Gate, if not nil, counts failed sign-ins. While it is shut, a wake-up is
	// answered with the reason, and the line stays silent.
	Gate *Gate
	// Edit, if not nil, is kept from one session on a line to the next, so that
	// the LF of a CR LF that ended a session does not wake the next one.
	Edit *Editor
	// Held, if not nil, is told when somebody has signed in, before that is shown, and
	// when that session is over.
	Held func(bool)
	// Idle ends the session when nothing was typed for so long; 0: as the card's
	// settings say. It is real time: a person types it away.
	Idle time.Duration
}

// Verify asks who knows users what to make of a sign-in by by. It may take as long
// as servers take to answer, but no longer than ctx.
type Verify func(ctx context.Context, by snap.Actor, password string) snap.Verdict

// Ending says why a session ended.
type Ending uint8

// Endings.
const (
	Left      Ending = iota // signed out
	Locked                  // too many failed sign-ins
	TimedOut                // nothing typed for Options.Idle
	Hangup                  // no more input, or output failed
	CardGone                // the card stopped answering or restarted
	Ended                   // the card ended the session: an account was changed
	Cancelled               // the context was cancelled
)

// going is no ending.
const going = Ending(255)

// Up says whether surfaces of d answer; network surfaces need an address too.
func Up(d *snap.Device, network bool) bool {
	return d.Card.State == snap.CardRunning && (!network || d.Card.Address.Reachable())
}

// Run holds one session: bytes typed arrive on in, what is to be shown goes to
// out. It returns when the session is over; in and out stay the caller's, who
// must be ready for bytes that nobody takes any more.
func Run(ctx context.Context, in <-chan []byte, out io.Writer, o Options) Ending {
	s := &session{ctx: ctx, o: o, out: out, edit: o.Edit}
	if s.edit == nil {
		s.edit = new(Editor)
	}
	rest, end := s.wake(ctx, in)
	if end == going {
		end = s.open(rest)
	}
	if end == going {
		end = s.loop(ctx, in)
	}
	s.signOut(end)
	s.hold(false)
	return end
}

// hold tells whether somebody is signed in.
func (s *session) hold(on bool) {
	if s.o.Held != nil && s.held != on {
		s.o.Held(on)
	}
	s.held = on
}

// signOut tells the card that the session is over.
func (s *session) signOut(end Ending) {
	by := s.state.By()
	if s.o.SignedIn || by.Session == 0 {
		return
	}
	SignOut(s.o.Source, by, end.Reason())
}

// Reason says for the journal why a session ended other than by leaving, "" if it was that.
func (e Ending) Reason() string {
	switch e {
	case TimedOut:
		return "nothing was typed"
	case Hangup, Cancelled:
		return "the line was closed"
	}
	return ""
}

// SignOut ends the session of by, for a reason that may be empty. It insists: nobody
// else tells the card.
func SignOut(source snap.Source, by snap.Actor, why string) {
	for source.Submit(snap.Command{Op: snap.OpSignOut, By: by, Text: why}).Status == snap.Busy {
		if !Up(source.Device(), false) {
			return // its sessions ended with it
		}
		time.Sleep(time.Millisecond)
	}
}

type session struct {
	ctx    context.Context
	o      Options
	out    io.Writer
	boots  uint32 // of the card that this session speaks with
	edit   *Editor
	state  menu.State
	held   bool // somebody has signed in, see [Options.Held]
	prompt string
	buf    []byte // to be shown
}

// wake waits for the first line end while the card runs. It returns the bytes
// that followed it.
func (s *session) wake(ctx context.Context, in <-chan []byte) ([]byte, Ending) {
	if !s.o.Wake {
		return nil, going
	}
	for {
		select {
		case <-ctx.Done():
			return nil, Cancelled
		case p, more := <-in:
			if !more {
				return nil, Hangup
			}
			if rest, woken := s.rouse(p); woken {
				return rest, going
			}
		}
	}
}

// rouse looks for a line end in p.
func (s *session) rouse(p []byte) ([]byte, bool) {
	if !Up(s.o.Source.Device(), s.o.Network) {
		*s.edit = Editor{}
		return nil, false
	}
	for i, b := range p {
		_, event := s.edit.Feed(b, nil)
		if event != Line {
			continue
		}
		s.edit.Take()
		if text := s.o.Gate.refusal(); text != "" {
			s.show("\n" + text)
			s.flush()
			continue
		}
		return p[i+1:], true
	}
	return nil, false
}

func (s *session) view() menu.View {
	d := s.o.Source.Device()
	v := menu.View{Dev: d, Now: max(d.Tick, s.o.Source.Now())}
	if s.o.From != nil {
		v.From = s.o.From()
	}
	return v
}

// open shows the menu's first words and feeds it what was typed ahead.
func (s *session) open(rest []byte) Ending {
	v := s.view()
	if !Up(v.Dev, s.o.Network) {
		return CardGone
	}
	s.boots = v.Dev.Card.Boots
	state, out := menu.Open(v, s.o.By)
	if !s.o.SignedIn {
		state, out = menu.Start(v, s.o.By, s.o.Gate.tries())
	}
	if end := s.apply(state, out); end != going {
		return end
	}
	return s.feed(rest)
}

func (s *session) loop(ctx context.Context, in <-chan []byte) Ending {
	watch := time.NewTicker(watchEvery)
	defer watch.Stop()
	idle := time.NewTimer(s.idle())
	defer idle.Stop()
	for {
		end := going
		select {
		case <-ctx.Done():
			return Cancelled
		case <-watch.C:
			end = s.check()
		case <-idle.C:
			s.show(fmt.Sprintf("\nSigned out: nothing was typed for %s.\n", s.idle()))
			s.flush()
			return TimedOut
		case p, more := <-in:
			if !more {
				return Hangup
			}
			end = s.feed(p)
			idle.Reset(s.idle())
		}
		if end != going {
			return end
		}
	}
}

// idle is how long nothing may be typed.
func (s *session) idle() time.Duration {
	if s.o.Idle > 0 {
		return s.o.Idle
	}
	return s.o.Source.Device().Card.Settings.SignInRules().Idle.Duration()
}

// check ends the session when its card is no longer there, or has ended it.
func (s *session) check() Ending {
	d := s.o.Source.Device()
	if !Up(d, s.o.Network) || d.Card.Boots != s.boots {
		return CardGone
	}
	if id := s.state.By().Session; id != 0 && d.Card.Session(id) == nil {
		s.show("\nSigned out by the card: its journal says why.\n")
		s.flush()
		return Ended
	}
	return going
}

// feed takes bytes that were typed.
func (s *session) feed(p []byte) Ending {
	for _, b := range p {
		if end := s.check(); end != going {
			return end
		}
		if end := s.key(b); end != going {
			return end
		}
	}
	return s.flush()
}

func (s *session) key(b byte) Ending {
	echo, event := s.edit.Feed(b, nil)
	if !s.o.Plain {
		s.show(string(echo))
	}
	v := s.view()
	switch event {
	case Line:
		return s.apply(s.state.Line(v, s.edit.Take()))
	case Cancel:
		return s.apply(s.state.Interrupt(v))
	case End:
		return s.apply(s.state.End(v))
	case Redraw:
		s.show(s.prompt + s.edit.Text())
	}
	return going
}

// apply shows what the menu has to say, and submits its commands until it asks.
func (s *session) apply(state menu.State, out menu.Output) Ending {
	for out.Command != nil || out.Try != nil {
		s.show(out.Text)
		if end := s.flush(); end != going {
			return end
		}
		if out.Try != nil {
			state, out = state.Tried(s.verify(state.By(), out.Try.Password))
			continue
		}
		command := *out.Command
		result := s.o.Source.Submit(command)
		if command.Op == snap.OpSignIn {
			s.o.Gate.note(result.Status == snap.Done)
		}
		state, out = state.Answer(s.view(), command, result)
		s.state = state // what it signed in with has to be signed out, whatever comes
		s.hold(state.By().Session != 0)
	}
	s.show(out.Text + out.Prompt)
	s.state, s.prompt = state, out.Prompt
	s.edit.Hide(out.Hidden)
	if !out.Close {
		return s.flush()
	}
	s.flush()
	if out.Locked {
		return Locked
	}
	return Left
}

func (s *session) verify(by snap.Actor, password string) snap.Verdict {
	if s.o.Verify == nil {
		return s.o.Source.Device().Card.Verify(by.User, password)
	}
	return s.o.Verify(s.ctx, by, password)
}

// show queues text for the terminal.
func (s *session) show(text string) {
	if !s.o.Plain {
		text = strings.ReplaceAll(text, "\n", "\r\n")
	}
	s.buf = append(s.buf, text...)
}

func (s *session) flush() Ending {
	if len(s.buf) == 0 {
		return going
	}
	_, err := s.out.Write(s.buf)
	s.buf = s.buf[:0]
	if err != nil {
		return Hangup
	}
	return going
}
