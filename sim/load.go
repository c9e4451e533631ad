package sim

import (
	"errors"
	"io"
	"io/fs"
	"math"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/snap"
)

// maxFile is more than any scenario file may have, so that an endless one is
// refused instead of read.
const maxFile = 2 << 20

// Scenario is a scenario file that was read and checked. It never changes and
// may be played any number of times, also at once.
type Scenario struct {
	name    string // as messages call it
	text    []byte
	variant string
	plan    *plan.Plan
	unit    int       // number of the unit that it is about alone, 0 for the first or all
	shares  bool      // that unit is on the feeder of the first
	ofStudy *studyRun // nil: it is played by itself
}

// LoadOption changes how a scenario is read.
type LoadOption func(*scenario.Options)

// WithVariant applies the variant of that name; "" applies none.
func WithVariant(name string) LoadOption {
	return func(o *scenario.Options) { o.Variant = name }
}

// WithSeed replaces the seed of the file. The largest seed is 2^63-1; what is
// more wraps.
func WithSeed(seed uint64) LoadOption {
	seed &= math.MaxInt64
	return func(o *scenario.Options) { o.Seed = &seed }
}

// Load reads the scenario file at path. The error is an *IOError or an
// *InvalidError.
func Load(path string, opts ...LoadOption) (*Scenario, error) {
	text, err := readFile(path, maxFile)
	if err != nil {
		return nil, err
	}
	return Parse(path, text, opts...)
}

// Default is the built-in scenario: one host, a sag and an outage.
func Default(opts ...LoadOption) (*Scenario, error) {
	name, text := scenario.Default()
	return Parse(name, text, opts...)
}

// Parse reads the text of a scenario file that messages call name. The error is
// an *InvalidError.
func Parse(name string, text []byte, opts ...LoadOption) (*Scenario, error) {
	var o scenario.Options
	for _, opt := range opts {
		opt(&o)
	}
	p, err := scenario.Load(name, text, o)
	if err != nil {
		return nil, invalid(name, err)
	}
	return &Scenario{name: name, text: slices.Clone(text), variant: o.Variant, plan: p}, nil
}

// Title is the scenario's title.
func (s *Scenario) Title() string { return s.plan.Title }

// Seed is the master seed in force.
func (s *Scenario) Seed() uint64 { return s.plan.Seed }

// Variant is the name of the variant that was applied, "" for none.
func (s *Scenario) Variant() string { return s.variant }

// RunFor is how long the scenario runs.
func (s *Scenario) RunFor() time.Duration { return s.plan.RunFor.Duration() }

// Expectations is the names of the expectations, in their order.
func (s *Scenario) Expectations() []string {
	names := make([]string, len(s.plan.Expects))
	for i := range s.plan.Expects {
		names[i] = s.plan.Expects[i].Name
	}
	return names
}

// Receivers is the simulated addresses to which the card sends notifications, and
// those of the servers of time and of users, each in the order of the file.
func (s *Scenario) Receivers() []netip.AddrPort {
	var list []netip.AddrPort
	for _, p := range s.plan.All() {
		for _, r := range p.Card.Receivers {
			list = append(list, r.To)
		}
	}
	for _, t := range s.plan.TimeServers {
		list = append(list, netip.AddrPortFrom(t.Address, 123)) // RFC 5905
	}
	for _, x := range s.plan.LoginServers {
		list = append(list, netip.MustParseAddrPort(x.At)) // the reader of scenarios wrote it
	}
	for _, p := range s.plan.All() {
		list = append(list, signInServers(p.Card.Settings.SignInRules())...)
	}
	return list
}

// signInServers are those set on the card.
func signInServers(r *snap.SignInRules) (list []netip.AddrPort) {
	for _, x := range r.RADIUS {
		list = append(list, netip.MustParseAddrPort(x.Address))
	}
	for _, x := range r.LDAP {
		list = append(list, netip.MustParseAddrPort(x.Address))
	}
	return list
}

// Peers is the simulated addresses that can be mapped to endpoints: those of the
// receivers, and of the servers that the card sends to.
func (s *Scenario) Peers() []netip.AddrPort {
	list := s.Receivers()
	for i := range s.plan.Servers {
		if v := &s.plan.Servers[i]; v.Address.IsValid() && v.Kind != plan.ServerNames {
			list = append(list, netip.AddrPortFrom(v.Address, v.Port))
		}
	}
	return list
}

// Variant is a changed version of a scenario, usually one that must miss an
// expectation.
type Variant struct {
	Name, Why string
	Misses    []string // names of the expectations that it must miss
}

// Variants lists the variants of the file.
func (s *Scenario) Variants() ([]Variant, error) {
	list, err := scenario.Variants(s.name, s.text)
	if err != nil {
		return nil, invalid(s.name, err)
	}
	variants := make([]Variant, len(list))
	for i, v := range list {
		variants[i] = Variant(v)
	}
	return variants, nil
}

// With is the same file read again with other options.
func (s *Scenario) With(opts ...LoadOption) (*Scenario, error) {
	return Parse(s.name, s.text, opts...)
}

// file is the name of the file without its folder, which artefacts show: the
// folder differs between machines.
func (s *Scenario) file() string { return filepath.Base(s.name) }

func invalid(name string, err error) *InvalidError {
	e := invalidFile(name, err.Error())
	var p *scenario.Problem
	if errors.As(err, &p) {
		e.Line, e.Column, e.text = p.Line, p.Column, p.Error()
	}
	return e
}

// readFile reads at most limit bytes of a file.
func readFile(path string, limit int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, ioError("read", path, err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, limit))
	if err != nil {
		return nil, ioError("read", path, err)
	}
	return text, nil
}

// ioError drops the operation and path that the standard library repeats. What
// is one already is left as it is.
func ioError(op, path string, err error) *IOError {
	var own *IOError
	if errors.As(err, &own) {
		return own
	}
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	return &IOError{Op: op, Path: report.OneLine(path), Err: err}
}

// PeerNames are the names of the scenario's peers.
func (s *Scenario) PeerNames() []string {
	var names []string
	for i := range s.plan.Peers {
		names = append(names, s.plan.Peers[i].Name)
	}
	return names
}
