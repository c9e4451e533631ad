package serve

import (
	"encoding/json"
	"fmt"

	"github.com/google/renameio/v2"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/plan"
)

// Ready is the record that says where everything is. Ignore fields that you do
// not know.
type Ready struct {
	Ready          bool      `json:"ready"`
	Scenario       string    `json:"scenario"`
	Endpoints      Endpoints `json:"endpoints"`
	ReadCommunity  string    `json:"read_community"`
	WriteCommunity string    `json:"write_community"`
	Label          Label     `json:"label"`
	BenchToken     string    `json:"bench_token"`
}

// Endpoints are host:port, and a path for the serial line.
type Endpoints struct {
	SNMP   string `json:"snmp"`
	SSH    string `json:"ssh"`
	Bench  string `json:"bench"`
	Serial string `json:"serial,omitempty"`
}

// Label is what the factory printed on the card.
type Label struct {
	SerialNumber string `json:"serial_number"`
	User         string `json:"user"`
	Password     string `json:"password"`
}

func readyOf(scenario string, p *plan.Plan, at Endpoints, token string) Ready {
	serial := p.Card.Identity.SerialNumber
	return Ready{
		Ready: true, Scenario: scenario, Endpoints: at,
		ReadCommunity: p.Card.Settings.ReadCommunity, WriteCommunity: p.Card.Settings.WriteCommunity,
		Label:      Label{SerialNumber: serial, User: p.Card.User, Password: card.Password(p.Seed, serial)},
		BenchToken: token,
	}
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
	return []string{
		"RIDETHROUGH_SNMP=" + r.Endpoints.SNMP,
		"RIDETHROUGH_SSH=" + r.Endpoints.SSH,
		"RIDETHROUGH_SERIAL=" + r.Endpoints.Serial,
		"RIDETHROUGH_READ_COMMUNITY=" + r.ReadCommunity,
		"RIDETHROUGH_WRITE_COMMUNITY=" + r.WriteCommunity,
	}
}

// benchEnvironment adds what only PROGRAM may know.
func (r Ready) benchEnvironment() []string {
	return append(r.environment(), "RIDETHROUGH_BENCH="+r.Endpoints.Bench, "RIDETHROUGH_TOKEN="+r.BenchToken)
}

// announce writes the record for whoever waits for it. The file holds secrets:
// only its owner may read it.
func announce(c *Config, line []byte) error {
	if c.ReadyFile != "" {
		if err := renameio.WriteFile(c.ReadyFile, line, 0o600, renameio.WithStaticPermissions(0o600)); err != nil {
			return fmt.Errorf("ready file: %w", err)
		}
	}
	if c.Ready == nil {
		return nil
	}
	if _, err := c.Ready.Write(line); err != nil {
		return fmt.Errorf("ready record: %w", err)
	}
	return nil
}
