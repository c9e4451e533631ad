package serve

import (
	"crypto"
	"fmt"
	"io"
	"net"
	"net/netip"
	"strconv"
	"sync"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/host/memory"
)

// Config is one session.
type Config struct {
	Plan     *plan.Plan
	Scenario string         // its file, for people
	Dir      string         // where the programs of process hosts start
	Engine   *engine.Engine // at tick 0
	First    engine.Frame   // that came with it

	Speed     float64 // simulated seconds per real second
	SNMP      string  // addresses to listen on, host:port, of each unit's card in turn, with commas; with Real one :port; empty: a free one, with Real the standard port
	SSH       string
	Real      bool   // SNMP and SSH are at the card's own addresses
	Interface string // of this machine that the card is on; with Real, "": none
	Bench     string
	Serial    string // path of the link to the serial line, likewise; empty: a temporary one
	Baud      int    // 0: as fast as it goes
	Expose    bool   // addresses beyond loopback are meant
	Keep      bool   // go on after the end of the run until interrupted
	Paused    bool   // time stands until the bench has it run

	HostKey   crypto.Signer             // of the first unit's card; nil: derived from the seed
	Receivers map[netip.AddrPort]string // simulated address to endpoint
	Peers     map[string]netip.Addr     // peer of the scenario to the address of the real client that plays it
	Program   []string                  // started once ready; the session ends with it

	Ready     io.Writer    // gets the ready record, one line
	ReadyFile string       // gets the same bytes, by rename
	Programs  io.Writer    // output of PROGRAM and of the hosts' programs
	Log       func(string) // talk, one line each

	Memory *memory.Store // nil: what the cards remember ends with the session

	Each   func(engine.Frame) // every frame, in order, from one goroutine
	Record func(engine.Entry) // nil: no journal

	// Conclude comes to the result when nothing moves any more, as JSON for the bench.
	// It is called once unless something failed before.
	Conclude func(interrupted bool) ([]byte, error)
}

// BindError is a surface that could not be bound.
type BindError struct {
	Surface, Address string
	Err              error
}

// Error is one line.
func (e *BindError) Error() string {
	return fmt.Sprintf("%s: cannot bind %s: %v", e.Surface, e.Address, e.Err)
}

// Unwrap is the cause.
func (e *BindError) Unwrap() error { return e.Err }

// ExposeError is an address beyond loopback that nobody said is meant.
type ExposeError struct {
	Surface, Address string
}

// Error is one line that says what to do.
func (e *ExposeError) Error() string {
	if e.Surface == "interface" {
		return fmt.Sprintf("interface: whoever reaches %s then reaches the card; --expose says that this is meant", e.Address)
	}
	return fmt.Sprintf("%s: %s is not a loopback address; --expose says that this is meant", e.Surface, e.Address)
}

// FaultError is a panic of one of the surfaces.
type FaultError struct {
	Surface string
	Value   any
	Stack   []byte
}

// Error is one line; Stack is for the report of the fault.
func (e *FaultError) Error() string { return fmt.Sprintf("%s: internal fault: %v", e.Surface, e.Value) }

// lockedWriter is a writer for several goroutines.
type lockedWriter struct {
	mu sync.Mutex
	w  io.Writer
}

func (l *lockedWriter) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.w.Write(p)
}

func lockedLog(log func(string)) func(string) {
	var mu sync.Mutex
	return func(line string) {
		mu.Lock()
		defer mu.Unlock()
		log(line)
	}
}

// check refuses what could not be served, before anything is opened.
func (c *Config) check() error {
	if err := c.checkLoopback(); err != nil {
		return err
	}
	if err := c.findProgram(); err != nil {
		return err
	}
	return claim(c.ReadyFile)
}

// checkLoopback refuses what would be seen from outside this machine.
func (c *Config) checkLoopback() error {
	if err := c.loopback("bench", c.whereBench()); err != nil {
		return err
	}
	for i := range 1 + len(c.Plan.Units) {
		if c.Real {
			break // where the card is is looked at when it is there
		}
		at := c.where(i)
		if err := c.loopback("snmp", at.snmp); err != nil {
			return err
		}
		if err := c.loopback("ssh", at.ssh); err != nil {
			return err
		}
	}
	if c.Interface != "" && !c.Expose {
		return &ExposeError{Surface: "interface", Address: c.Interface}
	}
	for _, to := range c.Receivers {
		if err := c.loopback("receiver", to); err != nil {
			return err
		}
	}
	return nil
}

func portOf(address string) int {
	_, port, _ := net.SplitHostPort(address)
	n, _ := strconv.Atoi(port) // whoever made the configuration has checked it
	return n
}

func (c *Config) loopback(surface, address string) error {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return &BindError{Surface: surface, Address: address, Err: err}
	}
	if ip, err := netip.ParseAddr(host); c.Expose || host == "localhost" || err == nil && ip.IsLoopback() {
		return nil
	}
	return &ExposeError{Surface: surface, Address: address}
}
