package playback

import (
	"encoding/json"
	"os"

	"github.com/google/renameio/v2"
)

// ReadyError is a ready record that cannot be written.
type ReadyError struct{ Err error }

// Error is one line.
func (e *ReadyError) Error() string { return "cannot write the ready record: " + e.Err.Error() }

// Unwrap is the cause.
func (e *ReadyError) Unwrap() error { return e.Err }

// ready is the record that says where the agent is and how to read it: that of a
// session as far as it goes.
type ready struct {
	Version   int  `json:"ridethrough_ready"`
	Ready     bool `json:"ready"`
	Endpoints struct {
		SNMP string `json:"snmp"`
	} `json:"endpoints"`
	Community string   `json:"read_community"`
	Users     []string `json:"snmp_users,omitempty"`
}

// announce writes the ready record. The file is for its owner alone.
func (c *Config) announce(at string) error {
	r := ready{Version: 1, Ready: true, Community: c.Login.Community.Reveal()}
	r.Endpoints.SNMP = at
	if name := c.Login.User.Name; name != "" {
		r.Users = []string{name}
	}
	line, err := json.Marshal(r)
	if err != nil {
		return &ReadyError{err}
	}
	line = append(line, '\n')
	if c.Ready != nil {
		if _, err := c.Ready.Write(line); err != nil {
			return &ReadyError{err}
		}
	}
	if c.ReadyFile == "" {
		return nil
	}
	if err := renameio.WriteFile(c.ReadyFile, line, 0o600, renameio.WithStaticPermissions(0o600)); err != nil {
		return &ReadyError{err}
	}
	return nil
}

// withdraw removes the file of the ready record: one that is left over would call
// ready what is not.
func (c *Config) withdraw() {
	if c.ReadyFile != "" {
		os.Remove(c.ReadyFile)
	}
}
