package serve

import (
	"context"
	"encoding/json"
	"errors"
	"net"
	"net/netip"
	"runtime"
	"runtime/debug"
	"sync"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/host/control"
	"ridethrough/sim/internal/host/fleet"
	"ridethrough/sim/internal/host/pace"
	"ridethrough/sim/internal/host/ports"
)

// FleetConfig is a session of many devices. Of Config it uses what is not about
// one device.
type FleetConfig struct {
	Config
	Groups []fleet.Group
	Ports  bool // a port each instead of an address each
	// Boots is how often cards have started before, by the serial number that devices
	// are made after: with a Memory, which keeps them.
	Boots map[string]card.FleetBoots

	Each func(fleet.Outcome) // what every device came to, in order
}

// AddressError is addresses that a fleet cannot have.
type AddressError struct{ What string }

// Error is one line.
func (e *AddressError) Error() string { return e.What }

// FleetReady is the record that says where a fleet is. Ignore fields that you do
// not know.
type FleetReady struct {
	Version    int           `json:"ridethrough_ready"` // of the format, 1
	Ready      bool          `json:"ready"`
	Scenario   string        `json:"scenario"`
	Endpoints  BenchEndpoint `json:"endpoints"`
	BenchToken string        `json:"bench_token"`
	Devices    []DeviceReady `json:"devices"`
}

// BenchEndpoint is where the bench of all devices is.
type BenchEndpoint struct {
	Bench string `json:"bench"`
}

// DeviceReady says where one device is. A device of a fleet has SNMP alone.
type DeviceReady struct {
	Device         int          `json:"device"`
	Endpoints      SNMPEndpoint `json:"endpoints"`
	ReadCommunity  string       `json:"read_community"`
	WriteCommunity string       `json:"write_community"`
	Label          FleetLabel   `json:"label"`
	SNMPUsers      []string     `json:"snmp_users,omitempty"`
}

// SNMPEndpoint is host:port.
type SNMPEndpoint struct {
	SNMP string `json:"snmp"`
}

// FleetLabel is what the factory printed on a card that nobody can sign in to.
type FleetLabel struct {
	SerialNumber string `json:"serial_number"`
}

// spareHeap is how much the heap of a fleet may grow before it is collected, in
// percent. The customary 100 would double the memory of every device.
const spareHeap = 10

// fleetSession is everything that is open while a fleet is served.
type fleetSession struct {
	session
	fc    *FleetConfig
	fleet *fleet.Fleet
	boots *bootKeeper
}

// RunFleet serves c until every run ends, PROGRAM ends or ctx is done, and says
// whether it was the last. Whatever was opened is closed when it returns. The
// garbage collector of the process is set to save memory meanwhile.
func RunFleet(ctx context.Context, c FleetConfig) (interrupted bool, err error) {
	if err := c.check(); err != nil {
		return false, err
	}
	defer debug.SetGCPercent(debug.SetGCPercent(spareHeap))
	c.Programs, c.Log = &lockedWriter{w: c.Programs}, lockedLog(c.Log)
	s := &fleetSession{session: session{c: c.Config}, fc: &c}
	defer s.end()
	if err := s.open(ctx); err != nil {
		return false, err
	}
	inner, stop := context.WithCancel(ctx)
	defer stop()
	s.stop = stop
	if err := s.serve(inner); err != nil {
		return false, err
	}
	s.background.Wait()
	if fault := s.fault.Load(); fault != nil {
		return false, fault
	}
	s.boots.close()
	if err := s.lost.Load(); err != nil {
		return false, *err
	}
	unfinished := s.fleet.Unfinished()
	s.fleet.Outcomes(c.Each)
	return ctx.Err() != nil && unfinished, nil
}

// check refuses what could not be served, before anything is opened.
func (c *FleetConfig) check() error {
	if err := c.Config.check(); err != nil {
		return err
	}
	fc, err := c.fleet()
	if err != nil {
		return err
	}
	if what := fc.Check(c.Expose); what != "" {
		return &AddressError{what}
	}
	return ports.Room(fc.Devices())
}

// fleet is the configuration of the devices.
func (c *FleetConfig) fleet() (fleet.Config, error) {
	first, err := resolved("snmp", c.where(0).snmp)
	if err != nil {
		return fleet.Config{}, err
	}
	receivers := map[netip.AddrPort]netip.AddrPort{}
	for to, endpoint := range c.Receivers {
		if receivers[to], err = resolved("receiver", endpoint); err != nil {
			return fleet.Config{}, err
		}
		if !receivers[to].Addr().Is4() {
			return fleet.Config{}, &AddressError{endpoint + ": a fleet has addresses of IPv4, and so has what it sends to"}
		}
	}
	return fleet.Config{
		Groups: c.Groups, First: first, Ports: c.Ports, Keep: c.Keep,
		Receivers: receivers, Shards: runtime.GOMAXPROCS(0), Log: c.Log,
	}, nil
}

func resolved(surface, address string) (netip.AddrPort, error) {
	at, err := net.ResolveUDPAddr("udp", address)
	if err != nil {
		return netip.AddrPort{}, &BindError{Surface: surface, Address: address, Err: err}
	}
	ap := at.AddrPort()
	return netip.AddrPortFrom(ap.Addr().Unmap(), ap.Port()), nil
}

// open binds everything before anything of it serves.
func (s *fleetSession) open(ctx context.Context) (err error) {
	if s.clock, err = pace.New(s.c.Speed); err != nil {
		return err
	}
	if s.benchL, err = new(net.ListenConfig).Listen(ctx, "tcp", s.c.whereBench()); err != nil {
		return &BindError{Surface: "bench", Address: s.c.whereBench(), Err: cause(err)}
	}
	fc, err := s.fc.fleet()
	if err != nil {
		return err
	}
	fc.Clock, fc.Log = s.clock, s.c.Log
	s.fleet, err = fleet.Open(fc)
	var bind *fleet.BindError
	if errors.As(err, &bind) {
		return &BindError{Surface: "snmp", Address: bind.Address.String(), Err: bind.Err}
	}
	if err != nil || s.c.Memory == nil {
		return err
	}
	return s.keepBoots()
}

// keepBoots keeps one more start of every card before anybody hears of it, and from
// then on what comes.
func (s *fleetSession) keepBoots() (err error) {
	s.boots, err = newBootKeeper(s.c.Memory, s.fc.Groups, s.fc.Boots, func(err error) {
		s.lost.Store(&err)
		s.stop()
	})
	if err == nil {
		s.fleet.KeepWith(s.boots)
	}
	return err
}

// serve says that everything is ready, lets the time run and serves.
func (s *fleetSession) serve(ctx context.Context) error {
	token := control.NewToken()
	ready := s.ready(token)
	s.record = ready.line()
	s.bench = control.NewFleet(&fleetBench{Fleet: s.fleet, clock: s.clock, running: !s.c.Paused, speed: s.c.Speed}, token, s.record)
	if err := announce(&s.c, s.record); err != nil {
		return err
	}
	debug.FreeOSMemory() // what starting took
	if s.clock.StartStanding(); !s.c.Paused {
		s.clock.Start()
	}
	for i := range s.fleet.Shards() {
		s.guard("fleet", func() {
			if err := s.fleet.RunShard(ctx, i); err != nil {
				panic(err)
			}
		})
	}
	s.program.Go(func() { s.bench.Serve(s.benchL) })
	first := &ready.Devices[0]
	return s.startProgram(ctx, []string{
		"RIDETHROUGH_SNMP=" + first.Endpoints.SNMP,
		"RIDETHROUGH_READ_COMMUNITY=" + first.ReadCommunity,
		"RIDETHROUGH_WRITE_COMMUNITY=" + first.WriteCommunity,
		"RIDETHROUGH_BENCH=" + ready.Endpoints.Bench,
		"RIDETHROUGH_TOKEN=" + token,
	})
}

func (s *fleetSession) ready(token string) *FleetReady {
	r := &FleetReady{
		Version: 1, Ready: true, Scenario: s.c.Scenario, Endpoints: BenchEndpoint{s.benchL.Addr().String()}, BenchToken: token,
	}
	for i := range s.fc.Groups {
		g := &s.fc.Groups[i]
		var users []string
		for i := range g.Plan.Card.Access.Users {
			users = append(users, g.Plan.Card.Access.Users[i].Name)
		}
		for n := g.First; n < g.First+g.Count; n++ {
			card := &s.fleet.Member(n).Card
			r.Devices = append(r.Devices, DeviceReady{
				Device: n, Endpoints: SNMPEndpoint{s.fleet.Address(n).String()},
				ReadCommunity: card.Settings.ReadCommunity.Reveal(), WriteCommunity: card.Settings.WriteCommunity.Reveal(),
				Label: FleetLabel{card.Identity.SerialNumber}, SNMPUsers: users,
			})
		}
	}
	return r
}

func (r *FleetReady) line() []byte {
	b, err := json.Marshal(r)
	if err != nil {
		panic("serve: ready record: " + err.Error()) // strings only: cannot fail
	}
	return append(b, '\n')
}

// end closes everything in order.
func (s *fleetSession) end() {
	withdraw(s.c.ReadyFile, s.record)
	if s.stop != nil {
		s.stop()
	}
	s.background.Wait()
	s.boots.close()
	if s.bench != nil {
		s.bench.Close()
	}
	if s.benchL != nil {
		s.benchL.Close()
	}
	s.program.Wait()
	if s.fleet != nil {
		s.fleet.Close()
	}
}

// fleetBench shows the fleet to the bench.
type fleetBench struct {
	*fleet.Fleet
	clock *pace.Clock

	mu      sync.Mutex
	running bool
	speed   float64
}

// Clock implements [control.Fleet].
func (b *fleetBench) Clock() engine.Clock {
	b.mu.Lock()
	defer b.mu.Unlock()
	return engine.Clock{Now: b.clock.Now(), Speed: b.speed, Running: b.running, Ended: b.Ended()}
}

// Turn implements [control.Fleet].
func (b *fleetBench) Turn(t engine.Turn) engine.Clock {
	b.mu.Lock()
	if t.Running != nil {
		b.running = *t.Running
	}
	if t.Speed != nil {
		b.speed = *t.Speed
	}
	b.clock.Turn(b.clock.Now(), b.speed, b.running)
	b.mu.Unlock()
	b.Wake() // who sleeps does so by the old time
	return b.Clock()
}

// Sum implements [control.Fleet].
func (b *fleetBench) Sum() control.FleetState {
	sum := b.Fleet.Sum()
	return control.FleetState{
		TimeS: sum.Tick.Seconds(), Devices: sum.Devices, OnBattery: sum.OnBattery, LowBattery: sum.Low,
		NoOutput: sum.NoOutput, HostsCut: sum.HostsCut,
		Notified: sum.Sent.ByName(), Acknowledged: sum.Acked.ByName(), GivenUp: sum.Unacked.ByName(),
	}
}
