package sim

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/netip"
	"path/filepath"
	"runtime"
	"strings"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/host/fleet"
	"ridethrough/sim/internal/host/ports"
	"ridethrough/sim/internal/host/serve"
)

// FleetResult is what all devices of a fleet came to, added up.
type FleetResult struct{ report *report.Fleet }

// Devices is how many there were.
func (r *FleetResult) Devices() int { return r.report.Devices }

// Met says whether every device met every expectation.
func (r *FleetResult) Met() bool { return r.report.Met() }

// Failed is the names of the expectations that some device did not meet.
func (r *FleetResult) Failed() []string { return r.report.Result().Failed() }

// Interrupted says whether devices were stopped before the end of their run, and
// judged at that moment.
func (r *FleetResult) Interrupted() bool { return r.report.Interrupted }

// Notifications counts what all cards sent, by kind, such as "on_battery".
func (r *FleetResult) Notifications() map[string]int { return r.report.Sent.ByName() }

// Closing is the outcome in one line.
func (r *FleetResult) Closing() string { return r.report.Closing() }

// Text writes how every expectation fared, with the numbers of the first devices
// that did not meet it.
func (r *FleetResult) Text(w io.Writer) error { return r.report.Text(w) }

// Brief writes the expectations that some device did not meet, and the outcome
// in one line.
func (r *FleetResult) Brief(w io.Writer) error { return r.report.Brief(w) }

// JSON writes the result as docs/json.md describes it.
func (r *FleetResult) JSON(w io.Writer) error { return r.report.JSON(w) }

// JUnit writes a test case for each expectation, which fails if any device did
// not meet it.
func (r *FleetResult) JUnit(w io.Writer) error { return r.report.JUnit(w) }

// Fleet is how many devices the scenario has as a fleet; 0 if it is one site.
func (s *Scenario) Fleet() int {
	f := s.plan.Fleet
	if f == nil {
		return 0
	}
	n := f.Count
	for i := range f.Files {
		n += f.Files[i].Count
	}
	return n
}

// part is the devices of a fleet that play one file.
type part struct {
	*Scenario
	first, count int // numbers of its devices, from 1
}

// parts reads the files of the fleet. The error is an *InvalidError or an
// *IOError.
func (s *Scenario) parts() ([]part, error) {
	f := s.plan.Fleet
	var list []part
	next := 1
	if f.Count > 0 {
		list = append(list, part{s, next, f.Count})
		next += f.Count
	}
	for i := range f.Files {
		file := &f.Files[i]
		other, err := s.fleetFile(file)
		if err != nil {
			return nil, err
		}
		list = append(list, part{other, next, file.Count})
		next += file.Count
	}
	return list, nil
}

func (s *Scenario) fleetFile(file *plan.FleetFile) (*Scenario, error) {
	path := file.Path
	if !filepath.IsAbs(path) {
		path = filepath.Join(filepath.Dir(s.name), path)
	}
	other, err := Load(path)
	if err != nil {
		return nil, err
	}
	what := ""
	switch {
	case other.plan.Fleet != nil:
		what = fmt.Sprintf("%s is a fleet itself; expected the scenario of one site", file.Path)
	case len(other.Units()) > 0:
		what = fmt.Sprintf("%s has more than one unit; expected a site of one", file.Path)
	case other.needsServe() != nil:
		what = fmt.Sprintf("%s has a host that is a real process; expected modelled hosts", file.Path)
	default:
		return other, nil
	}
	e := &InvalidError{File: s.name, Line: file.Line, Column: file.Column, What: what}
	e.text = report.OneLine(fmt.Sprintf("%s:%d:%d: %s", s.name, e.Line, e.Column, what))
	return nil, e
}

// CheckFleet reads the further files of a fleet. The error is an *InvalidError or
// an *IOError.
func (s *Scenario) CheckFleet() error {
	if s.plan.Fleet == nil {
		return nil
	}
	_, err := s.parts()
	return err
}

// FleetReceivers is the simulated addresses to which the cards of a fleet send
// notifications. Errors are those of [Scenario.CheckFleet].
func (s *Scenario) FleetReceivers() ([]netip.AddrPort, error) {
	parts, err := s.parts()
	if err != nil {
		return nil, err
	}
	var list []netip.AddrPort
	for i := range parts {
		list = append(list, parts[i].Receivers()...)
	}
	return list, nil
}

// Device is the scenario of device n of the fleet alone, counted from 1.
func (s *Scenario) Device(n int) (*Scenario, error) {
	if n < 1 || n > s.Fleet() {
		what := fmt.Sprintf("there is no device %d; expected 1 to %d", n, s.Fleet())
		if s.Fleet() == 0 {
			what = "it is one site, not a fleet, and has no devices to choose from"
		}
		return nil, invalidFile(s.name, what)
	}
	parts, err := s.parts()
	if err != nil {
		return nil, err
	}
	for i := range parts {
		p := &parts[i]
		if n >= p.first+p.count {
			continue
		}
		m := scenario.Member(p.plan, n)
		own, one := *p.plan, *p.Scenario
		own.Fleet, own.Seed, own.Card, own.Network, own.Entries = nil, m.Seed, m.Card, *m.Network, m.Entries
		own.Card.Like().NoLogin = false
		one.plan = &own
		return &one, nil
	}
	panic("sim: a fleet with fewer devices than it counts")
}

// oneSite refuses a fleet where one site is played.
func (s *Scenario) oneSite() error {
	if s.plan.Fleet == nil {
		return nil
	}
	what := fmt.Sprintf("it is a fleet of %d devices, not one site", s.Fleet())
	return invalidFile(s.name, what)
}

// RunFleet plays every device of a fleet in virtual time. The options' trace is
// not used. Errors are those of [Run] and of reading the fleet's files.
func RunFleet(s *Scenario, opts RunOptions) (*FleetResult, error) {
	if s.plan.Fleet == nil {
		what := "it is one site, not a fleet"
		return nil, invalidFile(s.name, what)
	}
	parts, err := s.parts()
	if err != nil {
		return nil, err
	}
	result := report.NewFleet(s.plan, s.file(), s.variant)
	for i := range parts {
		if err := parts[i].run(result, opts.Done); err != nil {
			return nil, err
		}
	}
	return &FleetResult{result}, nil
}

// run plays the devices of the part and adds up what they come to.
func (p *part) run(to *report.Fleet, done <-chan struct{}) error {
	model, _, err := engine.New(p.plan, nil)
	if err != nil {
		return invalid(p.name, err)
	}
	outcomes, failed := make([]report.Outcome, p.count), make([]error, p.count)
	member := scenario.Members(p.plan)
	played := engine.Each(p.count, runtime.GOMAXPROCS(0), done, func(i int, sc *engine.Scratch) {
		outcomes[i], failed[i] = p.play(model, member(p.first+i), sc)
	})
	for i := range outcomes[:played] {
		if failed[i] != nil {
			return invalid(p.name, failed[i])
		}
		to.Add(p.file(), p.first+i, &outcomes[i])
	}
	to.Interrupted = to.Interrupted || played < p.count
	return nil
}

func (p *part) play(model *engine.Engine, m *plan.Member, sc *engine.Scratch) (report.Outcome, error) {
	e, f, err := model.Like(m, sc)
	if err != nil {
		return report.Outcome{}, err
	}
	for !e.Ended() {
		f = e.Step(p.plan.RunFor)
	}
	return report.OutcomeOf(f.Site, e.Finish()), nil
}

// ServeFleet plays every device of a fleet against the clock on the wall, each
// behind an SNMP agent at its own address, until every run ends, the program ends
// or ctx is done. SNMP is the address of the first device. The options that are
// about one card (SSH, Serial, HostKey, Trace, Journal) have to be left out; in State
// devices keep how often they have started, and nothing else. Errors
// are those of [Serve] and of reading the fleet's files; an *IOError also says that
// the process may not open so many sockets.
func ServeFleet(ctx context.Context, s *Scenario, opts ServeOptions) (*FleetResult, error) {
	if s.plan.Fleet == nil {
		what := "it is one site, not a fleet"
		return nil, invalidFile(s.name, what)
	}
	if opts.SSH != "" || opts.Serial != "" || opts.HostKey != "" || opts.Trace != nil || opts.Journal != nil {
		what := "a device of a fleet has SNMP alone: no SSH, serial line, trace or journal"
		return nil, invalidFile(s.name, what)
	}
	if n := 1 + strings.Count(opts.SNMP, ","); n > 1 {
		text := fmt.Sprintf("--snmp names %d addresses: expected that of the first device, from which the others are counted", n)
		return nil, &InvalidError{What: text, text: text}
	}
	parts, err := s.parts()
	if err != nil {
		return nil, err
	}
	store, err := openState(opts.State)
	if err != nil {
		return nil, err
	}
	if store != nil {
		defer store.Close()
	}
	boots, err := bootsOf(store, parts)
	if err != nil {
		return nil, err
	}
	l := live{opts: &opts, run: &run{}}
	c := serve.FleetConfig{Config: l.config(s, nil), Ports: s.plan.Fleet.Ports, Boots: boots}
	c.Memory = store
	for i := range parts {
		p := &parts[i]
		c.Groups = append(c.Groups, fleet.Group{
			Plan: p.plan, First: p.first, Count: p.count, Inject: scenario.Injector(p.plan), Compile: scenario.Conditions(p.plan),
			Member: p.members(boots[p.serial()]),
		})
	}
	result := report.NewFleet(s.plan, s.file(), s.variant)
	c.Each = func(o fleet.Outcome) { result.Add(parts[o.Group].file(), o.Number, &o.Outcome) }
	result.Interrupted, err = serve.RunFleet(ctx, c)
	if err != nil {
		return nil, fleetError(err)
	}
	return &FleetResult{result}, nil
}

// serial is the number that those of the part's devices begin with.
func (p *part) serial() string { return p.plan.Card.Identity.SerialNumber }

// members makes the devices of the part, which have started so often before.
func (p *part) members(boots card.FleetBoots) func(n int) *plan.Member {
	member := scenario.Members(p.plan)
	return func(n int) *plan.Member {
		m := member(n)
		m.Card.Boots = boots.Of(n)
		return m
	}
}

// fleetError sorts what went wrong before a fleet was served.
func fleetError(err error) error {
	var limit *ports.LimitError
	var address *serve.AddressError
	switch {
	case errors.As(err, &limit), errors.Is(err, ports.ErrUnsupported):
		return &IOError{Op: "serve", Path: "the fleet", Err: err}
	case errors.As(err, &address):
		return &InvalidError{File: address.What, What: address.What, text: report.OneLine(address.What)}
	}
	return serveError(err)
}
