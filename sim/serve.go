package sim

import (
	"bytes"
	"context"
	"crypto"
	"errors"
	"fmt"
	"io"
	"net/netip"
	"path/filepath"
	"strings"

	gossh "golang.org/x/crypto/ssh"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/journal"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/host/memory"
	"ridethrough/sim/internal/host/serve"
)

// ServeOptions are the options of [Serve]. The zero value binds free loopback
// ports and runs in real time.
type ServeOptions struct {
	// Speed is simulated seconds per real second, 0.1 to 3600; 0 means 1.
	Speed float64
	// SNMP, SSH and Bench are addresses to listen on; "" means 127.0.0.1:0. Those of the
	// cards of further units follow after commas, in SNMP, SSH and Serial.
	SNMP, SSH, Bench string
	// Real has SNMP and SSH at the card's own addresses, as far as this machine has
	// them, and follow when these change. SNMP and SSH are then a port such as ":161";
	// "" means the standard's, 161 and 22, and ":0" one that is free.
	Real bool
	// Interface is the one of this machine that the card is on, with Real and Expose:
	// it takes leases of real DHCP servers there, and its addresses are put on it. That
	// takes root, or the capabilities NET_ADMIN and NET_RAW, and Speed 1.
	Interface string
	// Serial is the path of the link to the serial line; "" a temporary one.
	Serial string
	// SerialPacing slows the serial line down to 9600 bits per second, 8N1.
	SerialPacing bool
	// Expose allows addresses beyond loopback.
	Expose bool
	// Paused has time stand from the start until the bench has it run.
	Paused bool
	// Keep goes on after the end of the run until interrupted.
	Keep bool

	// State is a folder with what the card remembers from one session to the next,
	// made if need be: settings, accounts, starts, journal and keys. A card that is
	// in there keeps what it has, whatever [card] of the scenario says. "" is a new
	// card whose memory ends with the session.
	State string
	// HostKey is a file with the private key of the SSH server (OpenSSH or PEM);
	// "" is the one in State, else one that derives from the seed.
	HostKey string
	// Receivers maps simulated addresses of notification receivers, mail relays and
	// syslog collectors to endpoints; see [Scenario.Peers].
	Receivers map[netip.AddrPort]string
	// Peers says from which loopback address the real client comes that plays a peer
	// of the scenario, by its name. Any other client is in the card's own network.
	Peers map[string]netip.Addr
	// Program and its arguments are started once everything is ready; the session
	// ends with it.
	Program []string

	// Report has the result bring a [Report].
	Report bool

	// Ready receives the ready record, one line of JSON; ReadyFile the same by
	// rename. A ReadyFile that is left over is removed first, and this one in the
	// end.
	Ready     io.Writer
	ReadyFile string
	// Programs receives the output of Program and of the hosts' programs.
	Programs io.Writer
	// Log receives talk for people, a line a call.
	Log func(string)

	Trace   io.Writer // see [RunOptions]
	Journal io.Writer // receives what [Replay] reads, a whole line a write
}

// Serve plays s against the clock on the wall, with the surfaces of its card
// bound, until the run ends, the program ends, the bench ends it or ctx is done; the
// result is [Result.Interrupted] only in the last case. The error is an *IOError for what
// could not be bound, read, written or started, or an *InvalidError for options
// that contradict.
func Serve(ctx context.Context, s *Scenario, opts ServeOptions) (*Result, error) {
	l, c, err := s.prepare(&opts)
	if err != nil {
		return nil, err
	}
	defer l.release()
	if _, err := serve.Run(ctx, c); err != nil {
		return nil, serveError(err)
	}
	return l.result, nil
}

// prepare is a session of s, and what it takes to serve it. The caller has to release
// it.
func (s *Scenario) prepare(opts *ServeOptions) (*live, serve.Config, error) {
	if err := s.oneSite(); err != nil {
		return nil, serve.Config{}, err
	}
	key, err := hostKey(opts.HostKey)
	if err != nil {
		return nil, serve.Config{}, err
	}
	l := &live{opts: opts}
	if l.store, err = openState(opts.State); err != nil {
		return nil, serve.Config{}, err
	}
	c, err := l.prepare(s, key)
	if err != nil {
		l.release()
	}
	return l, c, err
}

func (l *live) prepare(s *Scenario, key crypto.Signer) (serve.Config, error) {
	if err := l.opts.units(s); err != nil {
		return serve.Config{}, err
	}
	s, err := s.recalling(l.store)
	if err != nil {
		return serve.Config{}, err
	}
	if l.opts.Interface != "" {
		s = s.leasing()
	}
	first, err := l.begin(s)
	if err != nil {
		return serve.Config{}, err
	}
	c := l.config(s, key)
	c.Engine, c.First, c.Memory, c.Conclude = l.run.engine, first, l.store, l.conclude
	return c, nil
}

// units refuses what does not go with the units of s.
func (o *ServeOptions) units(s *Scenario) error {
	if o.Interface != "" && len(s.plan.Units) > 0 {
		return invalidFile(s.name, "the site has more than one unit, and an interface is that of one card: serve it without --interface")
	}
	most := 1 + len(s.plan.Units)
	for _, x := range []struct{ flag, list string }{{"--snmp", o.SNMP}, {"--ssh", o.SSH}, {"--serial", o.Serial}} {
		if n := 1 + strings.Count(x.list, ","); n > most || o.Real && n > 1 && x.flag != "--serial" {
			text := fmt.Sprintf("%s names %d addresses: expected one for each unit's card at most, which are %d", x.flag, n, most)
			return &InvalidError{What: text, text: text}
		}
	}
	return nil
}

// release lets others use what the session kept its state in.
func (l *live) release() {
	if l.store != nil {
		l.store.Close()
	}
}

// live is a session as it is recorded.
type live struct {
	opts    *ServeOptions
	run     *run
	journal *journal.Writer // nil: nobody wants one
	veil    journal.Veil
	store   *memory.Store // nil: nothing is kept
	result  *Result
}

func (l *live) begin(s *Scenario) (first engine.Frame, err error) {
	traceTo := l.opts.Trace
	if l.opts.Journal != nil {
		for _, p := range s.plan.All() {
			l.leaveDerived(&p.Card)
		}
		source := string(scenario.Redact(s.text, l.veil.Name))
		h := journal.Header{Scenario: s.file(), Source: source, Variant: s.variant, Seed: s.Seed(), RealLeases: s.plan.Network.Real}
		if kept := s.plan.Card.Memory; kept != nil {
			h.Memory = card.Redact(kept, l.veil.Settings)
			for _, u := range s.plan.Units {
				h.Units = append(h.Units, card.Redact(u.Card.Memory, l.veil.Settings))
			}
		}
		l.journal = journal.New(l.opts.Journal, h)
		traceTo = tee(l.journal, traceTo)
	}
	e, first, err := engine.New(s.plan, scenario.Injector(s.plan))
	if err != nil {
		return first, invalid(s.name, err)
	}
	e.CompileWith(scenario.Conditions(s.plan))
	l.run = &run{session: s.session(traceTo, l.opts.Report), engine: e}
	return first, nil
}

// leaveDerived keeps what anybody can derive from the journal's seed in the open.
func (l *live) leaveDerived(c *plan.Card) {
	if c.ReadFromSeed {
		l.veil.Leave(c.Settings.ReadCommunity.Reveal())
	}
	if c.WriteFromSeed {
		l.veil.Leave(c.Settings.WriteCommunity.Reveal())
	}
}

// conclude judges the session, closes its journal, and is the result as JSON.
func (l *live) conclude(interrupted bool) ([]byte, error) {
	result, err := l.run.finish(interrupted)
	if err != nil {
		return nil, err
	}
	if l.journal != nil {
		l.journal.End(l.run.engine.Now())
		if err := l.journal.Err(); err != nil {
			return nil, ioError("write", "the journal", err)
		}
	}
	l.result = result
	var b bytes.Buffer
	result.JSON(&b) // into memory: cannot fail
	return b.Bytes(), nil
}

// config fills in what was left out.
func (l *live) config(s *Scenario, key crypto.Signer) serve.Config {
	o := l.opts
	c := serve.Config{
		Plan: s.plan, Scenario: s.file(), Dir: filepath.Dir(s.name),
		Speed: o.Speed, SNMP: o.SNMP, SSH: o.SSH, Bench: o.Bench, Serial: o.Serial,
		Real: o.Real, Interface: o.Interface, Expose: o.Expose, Keep: o.Keep, Paused: o.Paused, HostKey: key, Receivers: o.Receivers, Peers: o.Peers, Program: o.Program,
		Ready: o.Ready, ReadyFile: o.ReadyFile, Programs: o.Programs, Log: o.Log,
		Each: l.run.see,
	}
	if l.journal != nil {
		c.Record = func(e engine.Entry) { l.journal.Command(l.veil.Entry(e)) }
	}
	if c.Speed == 0 {
		c.Speed = 1
	}
	if o.SerialPacing {
		c.Baud = 9600
	}
	if c.Programs == nil {
		c.Programs = io.Discard
	}
	if c.Log == nil {
		c.Log = func(string) {}
	}
	return c
}

// hostKey reads the private key of the SSH server; nil for no path.
func hostKey(path string) (crypto.Signer, error) {
	if path == "" {
		return nil, nil
	}
	text, err := readFile(path, maxFile)
	if err != nil {
		return nil, err
	}
	raw, err := gossh.ParseRawPrivateKey(text)
	if err != nil {
		return nil, invalid(path, fmt.Errorf("not a private key without a passphrase: %w", err))
	}
	key, ok := raw.(crypto.Signer)
	if !ok {
		return nil, invalid(path, fmt.Errorf("a private key of a kind that cannot sign: %T", raw))
	}
	return key, nil
}

// serveError sorts what went wrong before anything was served.
func serveError(err error) error {
	var bind *serve.BindError
	var expose *serve.ExposeError
	var program *serve.ProgramError
	var fault *serve.FaultError
	var ready *serve.ReadyFileError
	var own *IOError
	var state *memory.Error
	switch {
	case errors.As(err, &state):
		return stateError("", err)
	case errors.As(err, &fault): // as if it had happened here
		panic(fmt.Sprintf("%v\n%s", fault, fault.Stack))
	case errors.As(err, &own): // of a writer that we were given
		return own
	case errors.As(err, &ready):
		return ioError("write", ready.Path, ready.Err)
	case errors.As(err, &bind):
		return &IOError{Op: "bind", Path: bind.Surface + " " + bind.Address, Err: bind.Err}
	case errors.As(err, &program):
		return &IOError{Op: "start", Path: program.Program, Err: program.Err}
	case errors.As(err, &expose):
		return &InvalidError{File: expose.Address, What: expose.Error(), text: expose.Error()}
	}
	return &IOError{Op: "serve", Path: "the card", Err: err}
}
