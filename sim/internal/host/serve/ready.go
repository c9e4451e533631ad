package serve

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/google/renameio/v2"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/snap"
)

// Ready is the record that says where everything is. Ignore fields that you do
// not know.
type Ready struct {
	Version  int    `json:"ridethrough_ready"` // of the format, 1
	Ready    bool   `json:"ready"`
	Scenario string `json:"scenario"`
	Card
	Sinks      []Sink `json:"sinks,omitempty"`
	Units      []Unit `json:"units,omitempty"` // the further ones
	BenchToken string `json:"bench_token"`
}

// Unit is a further unit of the site with its card. Its endpoints have no bench: there
// is one for all.
type Unit struct {
	Name string `json:"name"`
	Card
}

// Card is where one card is, and what opens it.
type Card struct {
	Endpoints      Endpoints `json:"endpoints"`
	ReadCommunity  string    `json:"read_community"`
	WriteCommunity string    `json:"write_community"`
	SNMPUsers      []string  `json:"snmp_users,omitempty"` // names; the passwords stand in the scenario
	Label          Label     `json:"label"`
	Accounts       []Login   `json:"accounts,omitempty"` // those that the scenario adds
}

// Sink is a server of the scenario that keeps what arrives.
type Sink struct {
	Name     string `json:"name"`
	Kind     string `json:"kind"`     // "mail", "syslog" or "snmp"
	At       string `json:"at"`       // its simulated address and port
	Endpoint string `json:"endpoint"` // host:port; a collector takes UDP, TCP and TLS there
	// Of mail and syslog: a file with the certificate that it shows, and its digest.
	CAFile string `json:"ca_file,omitempty"`
	SHA256 string `json:"certificate_sha256,omitempty"`
}

// Endpoints are host:port, and a path for the serial line. Those of a card that
// has no address (yet) are empty.
type Endpoints struct {
	SNMP   string `json:"snmp"`
	SSH    string `json:"ssh"`
	SNMPv6 string `json:"snmp_v6,omitempty"` // of a card that is at its own addresses
	SSHv6  string `json:"ssh_v6,omitempty"`
	Bench  string `json:"bench,omitempty"`
	Serial string `json:"serial,omitempty"`
}

// Login is an account that the scenario adds.
type Login struct {
	User     string    `json:"user"`
	Role     snap.Role `json:"role"`
	Password string    `json:"password"`
}

// Label is what the factory printed on the card.
type Label struct {
	SerialNumber string `json:"serial_number"`
	User         string `json:"user"`
	Password     string `json:"password"`
}

// readyNow is the record of a session whose surfaces are bound.
func (s *session) readyNow(token string) (Ready, error) {
	r := Ready{Version: 1, Ready: true, Scenario: s.c.Scenario, Card: s.units[0].ready(), BenchToken: token}
	for _, u := range s.units[1:] {
		r.Units = append(r.Units, Unit{Name: u.plan.UnitName, Card: u.ready()})
	}
	var err error
	r.Sinks, err = s.readySinks()
	return r, err
}

// ready is what there is to know of one card.
func (s *served) ready() Card {
	p, set := s.plan, &s.card.Site().Card.Settings
	serial := p.Card.Identity.SerialNumber
	c := Card{
		Endpoints:     s.endpoints(),
		ReadCommunity: set.ReadCommunity.Reveal(), WriteCommunity: set.WriteCommunity.Reveal(),
		Label: Label{SerialNumber: serial, User: p.Card.User, Password: card.Password(p.Seed, serial)},
	}
	for i := range p.Card.Access.Users {
		c.SNMPUsers = append(c.SNMPUsers, p.Card.Access.Users[i].Name)
	}
	for _, a := range p.Card.Accounts {
		c.Accounts = append(c.Accounts, Login{User: a.User, Role: a.Role, Password: a.Password})
	}
	return c
}

// line is the record as one line.
func (r Ready) line() []byte {
	b, err := json.Marshal(r)
	if err != nil {
		panic("serve: ready record: " + err.Error()) // strings only: cannot fail
	}
	return append(b, '\n')
}

// environment is the record for the programs of hosts.
func (r Ready) environment() []string {
	list := append(r.sinkEnvironment(), r.Card.environment("RIDETHROUGH_")...)
	for _, u := range r.Units {
		list = append(list, u.Card.environment("RIDETHROUGH_"+strings.ToUpper(u.Name)+"_")...)
	}
	return list
}

func (c *Card) environment(prefix string) []string {
	return []string{
		prefix + "SNMP=" + c.Endpoints.SNMP,
		prefix + "SSH=" + c.Endpoints.SSH,
		prefix + "SERIAL=" + c.Endpoints.Serial,
		prefix + "READ_COMMUNITY=" + c.ReadCommunity,
		prefix + "WRITE_COMMUNITY=" + c.WriteCommunity,
	}
}

func (r Ready) sinkEnvironment() (list []string) {
	for _, k := range r.Sinks {
		list = append(list, "RIDETHROUGH_SINK_"+strings.ToUpper(k.Name)+"="+k.Endpoint)
		if k.CAFile != "" && !slices.ContainsFunc(list, func(v string) bool { return strings.HasPrefix(v, "RIDETHROUGH_CA_FILE=") }) {
			list = append(list, "RIDETHROUGH_CA_FILE="+k.CAFile)
		}
	}
	return list
}

// benchEnvironment adds what only PROGRAM may know.
func (r Ready) benchEnvironment() []string {
	return append(r.environment(), "RIDETHROUGH_BENCH="+r.Endpoints.Bench, "RIDETHROUGH_TOKEN="+r.BenchToken)
}

// ReadyFileError is a ready file that cannot be written.
type ReadyFileError struct {
	Path string
	Err  error
}

// Error is one line.
func (e *ReadyFileError) Error() string { return fmt.Sprintf("cannot write %s: %v", e.Path, e.Err) }

// Unwrap is the cause.
func (e *ReadyFileError) Unwrap() error { return e.Err }

// claim makes sure, before anything is bound, that the ready file at path can be
// written, and removes one that is left over: it would call a simulator ready
// that is not.
func claim(path string) error {
	if path == "" {
		return nil
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return &ReadyFileError{path, errors.New("it is not a plain file")}
	}
	probe, err := renameio.NewPendingFile(path, renameio.WithTempDir(filepath.Dir(path)))
	if err != nil {
		return &ReadyFileError{path, bare(err)}
	}
	probe.Cleanup()
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return &ReadyFileError{path, bare(err)}
	}
	return nil
}

// withdraw removes the ready file at path if it still holds this session's
// record.
func withdraw(path string, record []byte) {
	if path == "" || record == nil {
		return
	}
	if held, err := os.ReadFile(path); err == nil && bytes.Equal(held, record) {
		os.Remove(path)
	}
}

// bare is err without a name, which is known or temporary.
func bare(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

// announce writes the record for whoever waits for it. The file holds secrets:
// only its owner may read it.
func announce(c *Config, line []byte) error {
	if c.Ready != nil {
		if _, err := c.Ready.Write(line); err != nil {
			return fmt.Errorf("ready record: %w", err)
		}
	}
	if c.ReadyFile == "" {
		return nil
	}
	if err := renameio.WriteFile(c.ReadyFile, line, 0o600, renameio.WithStaticPermissions(0o600)); err != nil {
		return &ReadyFileError{c.ReadyFile, bare(err)}
	}
	return nil
}
