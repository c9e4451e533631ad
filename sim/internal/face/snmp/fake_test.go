package snmp

import (
	"context"
	"net"
	"net/netip"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
)

// fake is a source that shows one device and remembers what was submitted.
type fake struct {
	mu       sync.Mutex
	dev      *snap.Device
	now      vtime.Tick
	commands []snap.Command
	answer   snap.Result
}

func (f *fake) Device() *snap.Device {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.dev
}

func (f *fake) Now() vtime.Tick {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.now
}

func (f *fake) Submit(c snap.Command) snap.Result {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.commands = append(f.commands, c)
	return f.answer
}

// submitted is what came since it was asked last.
func (f *fake) submitted() []snap.Command {
	f.mu.Lock()
	defer f.mu.Unlock()
	c := f.commands
	f.commands = nil
	return c
}

// change publishes a changed device.
func (f *fake) change(edit func(*snap.Device)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	d := *f.dev
	edit(&d)
	f.dev = &d
}

// demo is a source with a single-phase unit on battery; its figures are invented.
func demo() *fake {
	d := &snap.Device{
		Tick: 100 * vtime.Second,
		Card: snap.Card{
			State: snap.CardRunning, Boots: 1, StartedAt: 10 * vtime.Second, AuthenTraps: true,
			Identity: snap.Identity{SerialNumber: "S-1", Model: "Demo card", Firmware: "1.0"},
			Settings: snap.Settings{
				Name: "ups-1", Location: "Room 1", Contact: "duty@example.org", UPSName: "Rack 1", Attached: "db, web",
				ReadCommunity: snap.NewSecret("watch"), WriteCommunity: snap.NewSecret("steer"),
			},
			Address: snap.Address{State: "fixed", Prefix: netip.MustParsePrefix("192.0.2.10/24")},
		},
		UPS: snap.UPS{Manufacturer: "Example", Model: "Demo 1500", Firmware: "3", Source: snap.SourceBattery,
			OutputOn: true, SystemOn: true, OnBatterySince: 40 * vtime.Second, LineBads: 1},
		Battery: snap.Battery{Status: snap.BatteryNormal, RuntimeS: 1079, ChargePct: 91, Volts: 73.2, Amps: 16.1, TempC: 25},
		Test:    snap.Test{ID: snap.TestNone, SpinLock: 1, Result: snap.ResultNone},
		Control: snap.Control{ShutdownType: 1, ShutdownAt: vtime.Never, StartupAt: vtime.Never, RebootUntil: vtime.Never, AutoRestart: true},
		Config: snap.Config{InputVolts: 230, InputHz: 50, OutputVolts: 230, OutputHz: 50, OutputVA: 1500, OutputWatts: 1350,
			LowBatteryMinutes: 5, Audible: snap.AudibleEnabled, LowTransferVolts: 184, HighTransferVolts: 265},
	}
	probes := []snap.ProbeSetting{
		{Name: "inlet", ID: "0a1b2c3d", Temp: snap.Limits{LowCritical: snap.NoLimit(), LowWarn: 10.5, HighWarn: 30, HighCritical: snap.NoLimit(), Hysteresis: 1.5},
			Humid: snap.NoLimits(3), Rise: 4, RiseIn: 10 * vtime.Minute, Delay: 20 * vtime.Second},
		{Name: "aisle", Temp: snap.Limits{LowCritical: -5, HighWarn: 35, HighCritical: 40}, Humid: snap.NoLimits(3), Rise: snap.NoLimit()},
	}
	d.Card.Settings.Surroundings.Probes = probes
	d.Outlets = snap.Outlets{Live: 0b001, Turning: 0b011, Held: 0b010, LoadW: [snap.MaxGroups]float32{739.6}, Roster: &snap.Roster{
		Groups: []snap.RosterGroup{
			{Name: "desks", Label: "tables at the window", Hosts: "db", OnDelay: 500, OffDelay: 30 * vtime.Second},
			{Name: "racks", Hosts: "web, nas", OffDelay: vtime.Never},
			{Name: "wall", Mains: true, OffDelay: vtime.Never},
		},
		Hosts: []snap.RosterHost{
			{Name: "db", Fed: "desks, wall", Groups: 0b101, Supplies: 2}, {Name: "web", Fed: "racks", Groups: 0b010, Supplies: 1},
			{Name: "nas", Fed: "racks, wall", Groups: 0b110, Supplies: 2},
		},
		Contacts: []snap.RosterContact{{ContactSetting: snap.ContactSetting{
			Name: "door", Probe: "inlet", Input: 2, Rests: snap.RestsClosed, DebounceMS: 40, Severity: snap.Critical}}},
		Probes: []snap.RosterProbe{
			{ProbeSetting: probes[0], Contacts: 1, Temperature: "inlet temperature", Humidity: "inlet humidity", Every: 10 * vtime.Second},
			{ProbeSetting: probes[1], Temperature: "aisle temperature", Humidity: "aisle humidity", Every: 15 * vtime.Second},
		},
	}}
	d.Contacts[0] = snap.ContactActive
	d.Probes = snap.Probes{Count: 2, List: [snap.MaxProbes]snap.Probe{
		{Name: "inlet", TempC: 21.5, HasHumidity: true, HumidityPct: 45},
		{Name: "aisle", State: snap.ProbeCritical, TempC: 41.2, Since: 70 * vtime.Second},
	}}
	d.Input.Count = 1
	d.Output = snap.Lines{Count: 1, Frequency: 50, Lines: [3]snap.Line{{Volts: 230, Amps: 5.2, Watts: 1080, LoadPct: 80}}}
	d.Alarms.Count = 2
	d.Alarms.Rows[0] = snap.Alarm{ID: 2, Kind: snap.AlarmInputBad, Since: 40 * vtime.Second}
	d.Alarms.Rows[1] = snap.Alarm{ID: 300, Kind: snap.AlarmOnBattery, Since: 40 * vtime.Second}
	return &fake{dev: d, now: 100*vtime.Second + 500}
}

// req is a request in short form. Names without a value are asked with NULL.
type req struct {
	version   int32
	community string
	kind      ber.Tag
	id        int32
	a, b      int32 // status and index, or non-repeaters and max-repetitions
	names     []string
	values    []ber.Value
}

func (r req) encode() []byte {
	b, message := ber.Open(nil, ber.Sequence)
	b = ber.AppendInt(b, ber.Integer, int64(r.version))
	b = ber.AppendString(b, ber.OctetString, r.community)
	b, pdu := ber.Open(b, r.kind)
	for _, v := range []int32{r.id, r.a, r.b} {
		b = ber.AppendInt(b, ber.Integer, int64(v))
	}
	b, list := ber.Open(b, ber.Sequence)
	for i, name := range r.names {
		value := ber.Value{Tag: ber.Null}
		if i < len(r.values) {
			value = r.values[i]
		}
		var mark int
		b, mark = ber.Open(b, ber.Sequence)
		b = appendValue(ber.AppendOID(b, ber.MustOID(name)), value)
		b = ber.Close(b, mark)
	}
	return ber.Close(ber.Close(ber.Close(b, list), pdu), message)
}

func appendValue(b []byte, v ber.Value) []byte {
	switch v.Tag {
	case ber.ObjectID:
		return ber.AppendOID(b, v.OID)
	case ber.OctetString, ber.Opaque, ber.IPAddress:
		return ber.AppendString(b, v.Tag, v.Bytes)
	case ber.Null:
		return ber.AppendEmpty(b, v.Tag)
	default:
		return ber.AppendInt(b, v.Tag, v.Int)
	}
}

// ask puts r to a and decodes the reply; nil is silence.
func ask(t testing.TB, a *Agent, r req) *ber.Message {
	t.Helper()
	reply := a.Handle(r.encode(), "198.51.100.7:40000", nil)
	if len(reply) == 0 {
		return nil
	}
	if len(reply) > a.maxSize {
		t.Fatalf("reply of %d octets, %d are allowed", len(reply), a.maxSize)
	}
	m := new(ber.Message)
	if err := m.Decode(reply); err != nil {
		t.Fatalf("reply %x: %v", reply, err)
	}
	if m.Version != r.version || string(m.Community) != r.community || m.PDU.Type != ber.Response || m.PDU.RequestID != r.id {
		t.Fatalf("reply does not belong to the request: %+v", m)
	}
	return m
}

// serve answers on a loopback socket until the test ends.
func serve(t testing.TB, a *Agent) *net.UDPAddr {
	t.Helper()
	conn, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		in, out := make([]byte, 65536), make([]byte, 0, 65536)
		for {
			n, peer, err := conn.ReadFromUDPAddrPort(in)
			if err != nil {
				return
			}
			if reply := a.Handle(in[:n], peer.String(), out); len(reply) > 0 {
				conn.WriteToUDPAddrPort(reply, peer)
			}
		}
	}()
	t.Cleanup(func() { conn.Close(); <-ended })
	return conn.LocalAddr().(*net.UDPAddr)
}

// tool runs a command-line program of this name and returns what it printed. A
// missing program skips the test, but not where CI is set.
func tool(t *testing.T, name string, args ...string) (string, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, checks.Program(t, name), args...)
	cmd.Env, cmd.WaitDelay = toolEnv(t), time.Second
	out, err := cmd.CombinedOutput()
	if ctx.Err() != nil {
		t.Fatalf("%s %q is not over after two minutes: %s", name, args, out)
	}
	return strings.TrimSpace(string(out)), err
}

// toolEnv keeps the tools away from the machine's settings and MIB modules.
func toolEnv(t *testing.T) []string {
	return append(os.Environ(), "MIBS=", "MIBDIRS="+t.TempDir(), "SNMPCONFPATH="+t.TempDir(), "SNMP_PERSISTENT_DIR="+t.TempDir())
}
