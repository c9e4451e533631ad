package scenario

import (
	"math"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/image"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/battery"
)

// plans compares plans; conditions by their text.
var plans = cmp.Options{
	cmp.Comparer(func(a, b plan.Cond) bool { return a.Text == b.Text }),
	cmp.Comparer(func(a, b netip.Addr) bool { return a == b }),
	cmp.Comparer(func(a, b *time.Location) bool { return a.String() == b.String() }), // their names are the rules
	cmp.Comparer(func(a, b netip.Prefix) bool { return a == b }),
	cmp.Comparer(func(a, b netip.AddrPort) bool { return a == b }),
	cmp.Comparer(func(a, b snap.Secret) bool { return a.Reveal() == b.Reveal() }),
}

func zone(rule string) *time.Location {
	z, err := vtime.Zone(rule)
	if err != nil {
		panic(err)
	}
	return z
}

func readFile(t *testing.T, path ...string) []byte {
	t.Helper()
	src, err := os.ReadFile(filepath.Join(path...))
	if err != nil {
		t.Fatal(err)
	}
	return src
}

func ptr[T any](v T) *T { return &v }

// TestDefaults: what a file comes to that says nothing but what it must.
func TestDefaults(t *testing.T) {
	got, err := Load("small.toml", []byte("title = 'Small'\nrun_for = '10m'\n"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := &plan.Plan{
		Title: "Small", Seed: 1, Start: time.Date(2026, 1, 5, 8, 0, 0, 0, time.UTC), RunFor: 10 * vtime.Minute,
		Source: plan.Source{Volts: 230, Hz: 50},
		UPS: plan.UPS{
			Manufacturer: "Invented Power", Model: "Line-interactive 3000 SIMULATION", Firmware: "1.0",
			RatingVA: 3000, RatingW: 2700,
			LowTransferV: 177, HighTransferV: 281, BoostBelowV: 207, ReduceAboveV: 253, Ratio: 1.15,
			LowHz: 47, HighHz: 53, HysteresisV: 5, Transfer: 6, Qualify: 5 * vtime.Second,
			Retransfer:        plan.Retransfer{Quick: 10 * vtime.Second, Limit: 6, Hold: vtime.Minute},
			MainsLoss:         plan.LossCurve{NoLoad: 0.010, Linear: 0.003, Quadratic: 0.007},
			BatteryLoss:       plan.LossCurve{NoLoad: 0.020, Linear: 0.020, Quadratic: 0.025},
			LowBatteryMinutes: 5, ShutdownType: 1, AutoRestart: true, Audible: snap.AudibleEnabled,
			LinesIn: 1, LinesOut: 1, SlewHzPerS: 1, GeneratorCharge: 1,
			Bypass:           plan.Bypass{LowV: 207, HighV: 253, LowHz: 48, HighHz: 52, Gap: 15},
			BypassLoss:       plan.LossCurve{Linear: 0.002, Quadratic: 0.003},
			Overload:         plan.Overload{At125: vtime.Minute, Borne: 1.05, Instant: 10, Cools: 2 * vtime.Minute},
			InverterOverload: plan.Overload{At125: vtime.Minute, Borne: 1.05, Instant: 2, Cools: 2 * vtime.Minute},
			BypassOverload:   plan.Overload{At125: 10 * vtime.Minute, Borne: 1.10, Instant: 10, Cools: 2 * vtime.Minute},
			// 6.5 % of 2700 W, which is what it loses on battery, for 20 K.
			Converter: plan.Converter{
				CoolWPerK: 8.775, HeatJPerK: 8.775 * 1200, NoFan: 0.3, WarnC: 60, TripC: 75, DerateC: 40, DeratePct: 1.5,
			},
		},
		Battery: plan.Battery{
			Block: "agm-12v-9ah", Cell: battery.FromC20(9), Cells: 36, Strings: 1, CapacityAh: 9, ChargePct: 100,
			BlockCells: 6, CutoffV: 1.70, FloatV: 13.6 / 6, FloatMVPerK: 3, ChargeA: 1.8, AmbientC: 25, ColdestC: 25, HottestC: 25,
			Capacity: 1, Resistance: 1, LifeYears: 10, SelfDischargePct: 3,
		},
		Card: plan.Card{
			Identity: snap.Identity{
				SerialNumber: serialNumber(1), Model: "Network card SIMULATION", Firmware: "1.0", Hardware: hardwareAddress(1),
			},
			Settings: snap.Settings{
				Time:   snap.DefaultTime(),
				Groups: []snap.OutletGroup{{Name: "outlets", OffDelay: vtime.Never, ShedAfter: vtime.Never}},
				Name:   cardName(serialNumber(1)), Mode: snap.AddressDHCP,
				ReadCommunity:  snap.NewSecret(community(1, serialNumber(1), "read")),
				WriteCommunity: snap.NewSecret(community(1, serialNumber(1), "write")),
			},
			CardMake: &plan.CardMake{
				Clock:        plan.CardClock{Zone: time.UTC},
				ReadFromSeed: true, WriteFromSeed: true, UnitSpeed: 2400, BootTakes: 75 * vtime.Second, Watchdog: vtime.Minute, User: "technician", MustChange: true, Private: true, ImageKey: image.Public(1),
				Access: &snap.Access{
					V1: true, V2c: true, V3: true,
					Reader: snap.Views{Read: snap.Everything(), Notify: snap.Everything()},
					Writer: snap.Views{Read: snap.Everything(), Write: snap.Everything()},
				},
			},
		},
		Network: plan.Network{
			DHCP: "present", Offer: netip.MustParsePrefix("192.0.2.10/24"), Gateway: netip.MustParseAddr("192.0.2.1"), Lease: 24 * vtime.Hour,
			Link:   plan.Link{Carriage: snap.Carriage{BurstOver: 4, BurstWithin: 100 * vtime.Millisecond}, MismatchPct: 40, Mode: snap.LinkAuto},
			Subnet: netip.MustParsePrefix("192.0.2.0/24"), Router: netip.MustParseAddr("192.0.2.1"),
			Switch: plan.Core, ServerAt: plan.Core, RouterAt: plan.Core,
		},
		Groups: []plan.Group{{Name: "outlets", OffDelay: vtime.Never}},
	}
	if diff := cmp.Diff(want, got, plans); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func TestEverything(t *testing.T) {
	src := readFile(t, "testdata", "everything.toml")
	got, err := Load("everything.toml", src, Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := everything()
	atLines(want, string(src))
	if diff := cmp.Diff(want, got, plans); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// atLines gives entries and expectations of p the lines of their headers in src.
func atLines(p *plan.Plan, src string) {
	entries, expects := 0, 0
	for i, line := range strings.Split(src, "\n") {
		switch line {
		case "[[at]]":
			p.Entries[entries].Line = i + 1
			entries++
		case "[[expect]]":
			p.Expects[expects].Line = i + 1
			expects++
		}
	}
}

func everything() *plan.Plan {
	return &plan.Plan{
		Title: "Everything", Seed: 7, RunFor: 45 * vtime.Minute,
		LoginServers: []plan.LoginServer{{Name: "first", At: "198.51.100.30:1812", Is: plan.Strange, Answers: 80, Secret: "between us ", Users: map[string]snap.Role{"carla": snap.Operator}, Expires: 12 * vtime.Hour}},
		Start:        time.Date(2026, 3, 2, 7, 55, 0, 0, time.FixedZone("", 3600)),
		Source:       everySource(),
		UPS: plan.UPS{
			Manufacturer: "Maker", Model: "Model", Firmware: "2.3", RatingVA: 1500, RatingW: 1350,
			LowTransferV: 90, HighTransferV: 145, BoostBelowV: 105, ReduceAboveV: 134, Ratio: 1.12,
			LowHz: 57, HighHz: 63, HysteresisV: 3, Transfer: 4, Qualify: 3 * vtime.Second,
			MainsLoss:         plan.LossCurve{NoLoad: 0.01, Linear: 0.02, Quadratic: 0.03},
			BatteryLoss:       plan.LossCurve{NoLoad: 0.04, Linear: 0.05, Quadratic: 0.06},
			LowBatteryMinutes: 7, ShutdownType: 2, Audible: snap.AudibleMuted,
			Retransfer: plan.Retransfer{Quick: 8 * vtime.Second, Limit: 4, Hold: 90 * vtime.Second},
			LinesIn:    1, LinesOut: 1, SlewHzPerS: 0.5, GeneratorCharge: 0.4,
			Bypass:           plan.Bypass{Fitted: true, LowV: 100, HighV: 135, LowHz: 58, HighHz: 62, Gap: 12},
			BypassLoss:       plan.LossCurve{NoLoad: 0.001, Linear: 0.003, Quadratic: 0.004},
			Overload:         plan.Overload{At125: 50 * vtime.Second, Borne: 1.10, Instant: 8, Cools: 3 * vtime.Minute},
			InverterOverload: plan.Overload{At125: 30 * vtime.Second, Borne: 1.02, Instant: 1.5, Cools: 4 * vtime.Minute},
			BypassOverload:   plan.Overload{At125: 5 * vtime.Minute, Borne: 1.20, Instant: 9, Cools: vtime.Minute},
			Converter: plan.Converter{
				CoolWPerK: 6, HeatJPerK: 9000, NoFan: 0.25, WarnC: 55, TripC: 70, DerateC: 35, DeratePct: 2,
			},
		},
		Battery: plan.Battery{
			Block: "agm-12v-17ah", Cell: library("agm-12v-17ah").Cell, Cells: 24, Strings: 2, CapacityAh: library("agm-12v-17ah").CapacityAh, ChargePct: 90,
			BlockCells: 6, CutoffV: 1.75, FloatV: 2.27, FloatMVPerK: 4, ChargeA: 5, AmbientC: 30, ColdestC: 12, HottestC: 38,
			Capacity: 0.9, Resistance: 1.2, LifeYears: 12, SelfDischargePct: 2,
			Weak: &plan.WeakBlock{Capacity: 0.6, Resistance: 1.8}, OpenStrings: 1,
			Estimate: plan.Estimate{Learned: true, Filter: 10 * vtime.Second, Quantum: vtime.Minute, GainPct: -2},
		},
		Card: plan.Card{
			Identity: snap.Identity{SerialNumber: "SN-1", Model: "Card", Firmware: "4.5", Hardware: "02:00:5e:00:53:01"},
			Settings: snap.Settings{
				Conformance:  snap.ConformBasic,
				Surroundings: everySurroundings(),
				Groups: []snap.OutletGroup{
					{
						Name: "first", Label: "front", Hosts: "store, twin", OnDelay: vtime.Second, OffDelay: 30 * vtime.Second, ShedAfter: 5 * vtime.Minute,
						ShedRuntime: 6 * vtime.Minute, ShedPct: 40, MinPct: 30, MinOff: 12 * vtime.Second,
					},
					{Name: "second", Hosts: "app", ControlPath: true, OffDelay: vtime.Never, ShedAfter: vtime.Never},
				},
				Restart: snap.RestartGate{Pct: 20, Off: 14 * vtime.Second},
				Name:    "ups-a", Location: "Room 1", Contact: "ops@example.org", UPSName: "UPS A", Attached: "two machines",
				Mode: snap.AddressFixed, Fixed: netip.MustParsePrefix("192.0.2.20/24"), Gateway: netip.MustParseAddr("192.0.2.1"),
				ReadCommunity: snap.NewSecret("look"), WriteCommunity: snap.NewSecret("touch"),
				Zone:   "CET-1CEST,M3.5.0,M10.5.0/3",
				Alerts: everyAlert(),
				Time: snap.TimeSettings{ByHand: true, Interval: vtime.Hour, Step: 2 * vtime.Second, Servers: []snap.TimeServer{
					{Name: "clock-a", Address: netip.MustParseAddr("198.51.100.50")}, {Name: "extra", Address: netip.MustParseAddr("198.51.100.55")},
				}},
				Managers: &snap.ManagerSettings{
					V1: true, V2c: true, V3: true, ReadView: "unit", WriteView: "none", NotifyView: "all",
					Views: []snap.NamedView{{Name: "unit", Include: "1.3.6.1.2.1.33", Exclude: "1.3.6.1.2.1.33.1.8"}},
					Users: []snap.ManagerUser{{
						Name: "alerts", User: "alerts", Auth: snap.AuthSHA256, AuthPassword: snap.NewSecret("not a secret"),
						AuthFor: snap.AuthSHA256, PrivFor: snap.AuthSHA256,
						Priv: snap.PrivAES128, PrivPassword: snap.NewSecret("no secret either"), Level: snap.AuthNoPriv,
						ReadView: "unit", WriteView: "none", Alert: "all",
					}},
				},
				SignIn: everySignIn(),
			},
			CardMake: &plan.CardMake{
				Clock: plan.CardClock{
					Offset: -7 * vtime.Minute, DriftPPB: 11_600, NoBattery: true,
					Zone: zone("CET-1CEST,M3.5.0,M10.5.0/3"),
				},
				BootTakes: 40 * vtime.Second, Watchdog: 45 * vtime.Second, UnitTakes: 3 * vtime.Second, UnitSpeed: 9600, NoDetect: true, Waits: true, RestartAborts: true, Forgets: true, User: "fitter",
				Accounts: []plan.Account{{User: "anna", Role: snap.Operator, Password: "look and act", Set: snap.StampOf(time.Date(2026, 1, 31, 6, 55, 0, 0, time.UTC))}, {User: "ben", Role: snap.Administrator, Password: card.NamedPassword(7, "SN-1", "ben")}},
				Receivers: []plan.Receiver{
					{To: netip.MustParseAddrPort("198.51.100.20:162"), Version: "v1", Community: "tell", Retries: 3, Timeout: 2 * vtime.Second},
					{To: netip.MustParseAddrPort("[2001:db8::5]:1162"), Version: "v2c", Community: "look", Retries: 3, Timeout: 2 * vtime.Second},
					{To: netip.MustParseAddrPort("198.51.100.21:162"), Version: "v3", User: "alerts", Level: snap.AuthNoPriv,
						AlertRule: snap.AlertRule{Classes: 1<<snap.ClassPower | 1<<snap.ClassBattery, Least: snap.Warning.Rank()},
						Inform:    true, Retries: 4, Timeout: 3 * vtime.Second},
				},
				Access:   everyAccess(),
				Quirks:   everyQuirk()[1:],
				ImageKey: image.Public(7),
			},
		},
		Releases: []plan.Release{{Name: "next", Release: *everyRelease()}},
		Network: plan.Network{
			DHCP: "late", Late: 2 * vtime.Minute,
			Link: plan.Link{Carriage: snap.Carriage{
				LossPct: 2.5, Delay: 20 * vtime.Millisecond, Jitter: 5 * vtime.Millisecond, BurstLossPct: 12.5, BurstOver: 6, BurstWithin: 50 * vtime.Millisecond,
			}, MismatchPct: 35, Mode: snap.Link100Full, VLAN: 20},
			Offer: netip.MustParsePrefix("192.0.2.77/26"), Gateway: netip.MustParseAddr("192.0.2.65"),
			Lease: 8 * vtime.Hour, DNS: []netip.Addr{netip.MustParseAddr("192.0.2.53")},
			Subnet: netip.MustParsePrefix("192.0.2.0/25"), Router: netip.MustParseAddr("192.0.2.126"),
			Prefix6: netip.MustParsePrefix("2001:db8:1::/64"), Router6: netip.MustParseAddr("2001:db8:1::ffff"),
			Switch: 1, ServerAt: 0, RouterAt: 0, Taken: []netip.Addr{netip.MustParseAddr("192.0.2.78")},
		},
		Switches: []plan.Switch{
			{Name: "core", Group: -1, Uplink: plan.Core, Boot: vtime.Minute},
			{Name: "access", Group: 2, Uplink: 0, Boot: 90 * vtime.Second},
		},
		Peers: []plan.Peer{
			{Name: "desk", Address: netip.MustParsePrefix("198.51.100.20/24"), NoGateway: true, Switch: 0, Host: -1},
			{Name: "near", Address: netip.MustParsePrefix("192.0.2.30/24"), Gateway: netip.MustParseAddr("192.0.2.126"), Local: false, Switch: plan.Core, Host: 0},
		},
		TimeServers: []plan.TimeServer{
			{Name: "clock_a", Address: netip.MustParseAddr("198.51.100.50"), Silent: true, WrongBy: -vtime.Hour, Delay: vtime.Second, Stratum: 16, Group: 1},
			{Name: "clock_b", Address: netip.MustParseAddr("198.51.100.51"), Delay: 20, Stratum: 2, Group: -1},
		},
		Groups: []plan.Group{
			{Name: "first", OnDelay: vtime.Second, OffDelay: 30 * vtime.Second, Rules: plan.Rules{
				Label: "front", ShedAfter: 5 * vtime.Minute, ShedRuntime: 6 * vtime.Minute, ShedPct: 40, MinPct: 30, MinOff: 12 * vtime.Second,
			}},
			{Name: "second", OffDelay: vtime.Never, Rules: plan.Rules{ControlPath: true}},
			{Name: "third", OffDelay: vtime.Never, FromMains: true, Inrush: plan.Inrush{Times: 5, Lasts: 80}},
		},
		Room: &plan.Room{
			TempC: 23, OutsideC: 10, HeatJPerK: 50*1.2*1005 + 300*500, LeakWPerK: 25, RelHumPct: 50, OtherW: 120,
			CoolingW: 4000, SetpointC: 22, OwnSupply: true, CoolAfter: 2 * vtime.Minute,
		},
		Probes: []plan.Probe{{
			Name: "inlet", Every: 5 * vtime.Second, Lag: 30 * vtime.Second, NoiseK: 0.2, OffsetK: 1.5, Humidity: true,
			ID: "1f2e3d4c", Out: true, Fahrenheit: true,
			Contacts: []plan.Contact{{Name: "door", Closes: true}, {Name: "leak", Supervised: true}},
		}, {Name: "exhaust", ID: "aabbccdd", Every: 10 * vtime.Second, Lag: vtime.Minute, NoiseK: 0.1}},
		Hosts:  everyHost(),
		Policy: everyPolicy(),
		Monitor: &plan.Monitor{
			Peer: 1, Poll: 30 * vtime.Second, Timeout: 3 * vtime.Second, Retries: 3, Objects: 40, AtOnce: 10, LostAfter: 4, LowCharge: 35,
			SilenceIsFine: true, GapsAreZero: true, AwaitClear: true, InTurn: true, Client: plan.Client{Version: "v3", Read: word("monitor-look"), As: stranger}, FallIsRestart: true, FallIsWrap: true, NoDiscovery: true, ByEngineID: true,
			Neighbour: true, NeighbourBoots: 7, NeighbourUp: 48 * vtime.Hour,
			Tickets: []snap.AlarmKind{snap.AlarmFanFailure}, Ticket: plan.TicketByRow, Quiet: 2 * vtime.Hour,
		},
		Servers: []plan.Server{{
			Name: "relay", Kind: plan.ServerMail, Address: netip.MustParseAddr("198.51.100.25"), DNSName: "relay.example", Port: 587,
			Groups: []int{2}, Answer: plan.AnswerDefer, Takes: 3 * vtime.Second, TLS: "old", SignIn: "refuse",
			Unknown: []string{"nobody@site.example"}, Senders: []string{"site.example"}, Greylists: 5 * vtime.Minute, Expires: 81 * 12 * vtime.Hour,
		}, {
			Name: "watcher", Kind: plan.ServerSNMP, Address: netip.MustParseAddr("198.51.100.40"), Port: 162, Host: -1,
			Answer: plan.AnswerAccept, Takes: 200, TLS: "good", SignIn: "accept",
			Sink: true, Expires: vtime.Never, Community: "not-a-secret-either", DropsPct: 10, Acks: plan.AcksWrong,
			Users: []snap.User{{
				Name: "notifier", Auth: snap.AuthSHA256, AuthPassword: snap.NewSecret("not a secret"),
				Priv: snap.PrivAES128, PrivPassword: snap.NewSecret("no secret either"), Level: snap.AuthPriv,
			}},
			Matches: []plan.Match{{Name: "alarm", From: "notifier", To: "nobody", Subject: "alarm_added", Text: "fan_failure", OID: "1.3.6.1.2.1.33.2"}},
		}},
		Entries: everyEntry(),
		Expects: everyExpect(),
	}
}

func everySurroundings() snap.Surroundings {
	return snap.Surroundings{
		BySocket: true,
		Probes: []snap.ProbeSetting{{
			Name: "inlet", ID: "1f2e3d4c", Position: "rack 1, front", Unit: snap.Fahrenheit, Sends: snap.Fahrenheit,
			Temp:  snap.Limits{LowCritical: 8, LowWarn: 12, HighWarn: 28, HighCritical: 34, Hysteresis: 2},
			Humid: snap.Limits{LowCritical: 15, LowWarn: 20, HighWarn: 60, HighCritical: 75, Hysteresis: 4},
			Rise:  3, RiseIn: 5 * vtime.Minute, Delay: 40 * vtime.Second,
		}},
		Contacts: []snap.ContactSetting{
			{Name: "door", Probe: "inlet", Input: 1, Rests: snap.RestsClosed, DebounceMS: 50, Severity: snap.Warning},
			{Name: "leak", Probe: "inlet", Input: 2, Rests: snap.RestsClosed, Supervised: true, DebounceMS: 2000, Severity: snap.Critical},
		},
	}
}

func everySource() plan.Source {
	return plan.Source{
		Volts: 120, Hz: 60,
		Generator: &plan.Generator{
			RatingW: 9000, StartAfter: 4 * vtime.Second, StartTakes: 12 * vtime.Second,
			Settles: 30 * vtime.Second, WanderV: 7, WanderHz: 2, Period: 6 * vtime.Second,
			DroopHz: 1.5, StepHz: 3, StepV: 25, Recovers: 1500, CoolsDown: 6 * vtime.Minute, Failed: true,
			Overload: plan.Overload{At125: 30 * vtime.Second, Borne: 1.15, Instant: 2.5, Cools: 4 * vtime.Minute},
			TripV:    0.75, TripHz: 0.85, TripAfter: 3 * vtime.Second,
		},
		Changeover: plan.Changeover{
			Gap: 300, Accept: 7 * vtime.Second, Watch: 10 * vtime.Minute,
			LowV: 0.80, HighV: 1.20, LowHz: 0.92, HighHz: 1.08,
		},
	}
}

// everySignIn has what the file leaves as it is too: 5 minutes, 10 characters.
func everySignIn() *snap.SignInRules {
	return &snap.SignInRules{
		Idle: 5 * vtime.Minute, PasswordLeast: 10, LockAfter: 3, LockFor: 10 * vtime.Minute, Sessions: 2,
		Order: "radius-ldap", Fallback: true, DeadTime: 3 * vtime.Minute, RoleFrom: snap.ServiceType, Default: "viewer",
		RADIUS: []snap.RADIUSServer{{Name: "first", Address: "198.51.100.30:1812", Secret: snap.NewSecret("between us"), Timeout: 2 * vtime.Second, Tries: 3}},
		LDAP: []snap.LDAPServer{{
			Name: "tree", Address: "198.51.100.31:636", Mode: snap.LDAPS, Fingerprint: strings.Repeat("00112233445566778899aabbccddeeff", 2),
			BindDN: "cn=card,dc=example", BindPassword: snap.NewSecret("search"), Base: "ou=people,dc=example", UserAttribute: "cn",
			Administrators: "cn=admins,dc=example", Operators: "cn=operators,dc=example", Viewers: "cn=viewers,dc=example", Timeout: 4 * vtime.Second,
		}},
	}
}

func everyHost() []plan.Host {
	return []plan.Host{
		{
			Name: "store", Line: 1, Groups: []int{0}, DrawW: 300, IdleW: 8, PowerFactor: 0.9, HoldUp: 15,
			Stop: 4 * vtime.Minute, Boot: 5 * vtime.Minute, Restart: plan.RestartLast, Process: []string{"/bin/store", "--verbose"},
		},
		{
			Name: "app", Groups: []int{1}, DrawW: 200, IdleW: 5, PowerFactor: 0.95, HoldUp: 20,
			Stop: 2 * vtime.Minute, Boot: 3 * vtime.Minute, Restart: plan.RestartOff, Needs: []int{0}, Hangs: true, Channel: snap.ChannelRejects,
		},
		{
			Name: "twin", Groups: []int{1, 2}, Supplies: 2, Believed: []int{0}, DrawW: 100, IdleW: 5, PowerFactor: 0.95, HoldUp: 20,
			Stop: 2 * vtime.Minute, Boot: 3 * vtime.Minute, Wired: &plan.Wired{Output: 2, For: 12 * vtime.Second},
		},
	}
}

func word(text string) *snap.Secret {
	s := snap.NewSecret(text)
	return &s
}

// The users of SNMPv3 as which the managers ask.
var (
	alerts = &snap.User{
		Name: "alerts", Auth: snap.AuthSHA256, AuthPassword: snap.NewSecret("phrase of a manager"),
		Priv: snap.PrivAES128, PrivPassword: snap.NewSecret("veil of a manager"), Level: snap.NoAuthNoPriv,
	}
	stranger = &snap.User{
		Name: "stranger", AuthPassword: snap.NewSecret("phrase of a stranger"), PrivPassword: snap.NewSecret("another phrase"), Level: snap.AuthNoPriv,
	}
)

func everyPolicy() *plan.Policy {
	return &plan.Policy{
		Peer: 1, Client: plan.Client{Version: "v3", Read: word("policy-look"), Write: word("policy-order"), As: alerts},
		Poll: 5 * vtime.Second, Timeout: 4 * vtime.Second, Retries: 2, Confirm: 2,
		OnBatteryFor: 6 * vtime.Minute, RuntimeBelow: 7 * vtime.Minute, ChargeBelow: 45, OnLowBattery: true, InletAbove: 35, Inlet: "inlet",
		EvenOnMains: true, CardTimer: true, MinutesAsSeconds: true, IgnoreSilence: true, TrustOrder: true, UnknownIsMains: true, AcceptInvalid: true, AlarmsAlone: true, DistrustJumps: true, IgnoreTest: false, BatteryAsInlet: true, LastSample: true, FirstOutage: true,
		HostDeadline: 3 * vtime.Minute, InOrder: false, OffDelay: 2 * vtime.Minute, OffWhen: "at-once",
		StopDualFed: true, StartDelay: 20 * vtime.Second, OnReturn: plan.ReturnCancel, MinOff: 15 * vtime.Second, MinCharge: 25,
	}
}

func everyEntry() []plan.Entry {
	m := vtime.Minute
	before := []plan.Entry{
		{At: m, Note: "a sag", Actions: []plan.Action{{Kind: plan.ActSource, Change: plan.Change{Volts: 84, Hz: 60, Lasts: 300}}}},
		{At: 2 * m, Actions: []plan.Action{{Kind: plan.ActSource, Change: plan.Change{Volts: 138, Hz: 59.5}}}},
		{At: 3 * m, Actions: []plan.Action{
			{Kind: plan.ActSource, Change: plan.Change{Volts: 100, Hz: 60}}, {Kind: plan.ActUnitLink}, {Kind: plan.ActCharger}, {Kind: plan.ActNetwork, Net: &plan.NetChange{Offer: netip.MustParsePrefix("192.0.2.80/26"), Claim: netip.MustParseAddr("192.0.2.20"), Release: netip.MustParseAddr("192.0.2.78"), Link: &plan.LinkChange{LossPct: ptr(5.0), BurstLossPct: ptr(60.0), Delay: ptr(vtime.Second), Jitter: ptr(100 * vtime.Millisecond), Mode: ptr(snap.Link10Half), VLAN: ptr(30)}, Router: "absent", Gateway: netip.MustParseAddr("192.0.2.1")}}, {Kind: plan.ActLink}, {Kind: plan.ActDHCP},
			{Kind: plan.ActBypass, Order: "maintenance"}, {Kind: plan.ActInverter}, {Kind: plan.ActHighEfficiency, On: true},
		}},
	}
	return append(append(before, everyQuirkEntry()...), []plan.Entry{
		{At: 4 * m, Actions: []plan.Action{{Kind: plan.ActSource}, {Kind: plan.ActCardRestart}}},
		{At: vtime.Never, When: &plan.Cond{Text: "ups.runtime_min < 20"}, Actions: []plan.Action{{
			Kind: plan.ActHost, Host: 1, Draw: ptr(250.0), Stop: ptr(10 * vtime.Second), Hangs: ptr(false), Channel: ptr(snap.ChannelRefuses), Order: "stop",
		}, {Kind: plan.ActPolicy, Order: "stop"}}},
		{At: 10 * m, Actions: []plan.Action{
			{Kind: plan.ActSource, Change: plan.Change{Volts: 120, Hz: 60}}, {Kind: plan.ActAlarm, Alarm: snap.AlarmFanFailure, On: true},
			{Kind: plan.ActCharger, On: true}, {Kind: plan.ActLink, On: true}, {Kind: plan.ActDHCP, On: true}, {Kind: plan.ActOutput, On: true},
		}},
		{At: 10 * m, Actions: []plan.Action{
			{Kind: plan.ActTest, Test: snap.TestDeepCalibration}, {Kind: plan.ActAlarm, Alarm: snap.AlarmFanFailure},
			{Kind: plan.ActOutput}, {Kind: plan.ActSwitch, Order: "cycle", By: "night shift"}, {Kind: plan.ActLockout, On: true}, {Kind: plan.ActCharge, Value: 33},
		}},
		{At: 11 * m, Actions: []plan.Action{
			{Kind: plan.ActSource, Change: plan.Change{
				Volts: 48, Hz: 60, Lasts: 200, Count: 3, Every: 20 * vtime.Second, Jitter: 5 * vtime.Second, LastsUpTo: vtime.Second,
			}},
			{Kind: plan.ActGenerator, On: true}, {Kind: plan.ActInput}, {Kind: plan.ActCooling}, {Kind: plan.ActFan}, {Kind: plan.ActProbe},
			{Kind: plan.ActContact, Contact: 1, Wire: plan.WireOpen, Change: plan.Change{Lasts: 20}},
			{Kind: plan.ActReplace, Left: plan.AgedBlock, Value: 66}, {Kind: plan.ActHealthReset},
		}},
		{At: 13 * m, Actions: []plan.Action{
			{Kind: plan.ActSource, Change: plan.Change{Hz: 60, Line: 2}},
			{Kind: plan.ActGenerator}, {Kind: plan.ActInput, On: true}, {Kind: plan.ActCooling, On: true}, {Kind: plan.ActFan, On: true},
			{Kind: plan.ActProbe, On: true}, {Kind: plan.ActContact, Wire: plan.WireCut},
		}},
		{At: 13*m + 30*vtime.Second, Actions: []plan.Action{{Kind: plan.ActServer, Server: plan.ServerChange{
			Answer: plan.AnswerAccept, Takes: ptr(vtime.Second), TLS: "good", SignIn: "accept", Renew: ptr(400 * 24 * vtime.Hour),
		}}, {Kind: plan.ActTry, Order: "desk"}}},
		{At: 13*m + 40*vtime.Second, Actions: []plan.Action{{Kind: plan.ActServer, Server: plan.ServerChange{Server: 1, Drops: ptr(0.0), Acks: plan.AcksAll}}}},
		{At: 14 * m, Actions: []plan.Action{
			{Kind: plan.ActSource, Change: plan.Change{Volts: 110, Hz: 59, Over: 5 * m}},
			{Kind: plan.ActProbeSwap, Other: 1, On: true},
			{Kind: plan.ActTime, Time: &plan.TimeChange{Server: 1, Answers: new(false), WrongBy: new(2 * vtime.Hour), Stratum: new(3)}},
			{Kind: plan.ActClock, Offset: -10 * m},
			{Kind: plan.ActSettings, Settings: []setting.Value{{Path: "reach.zone", Text: "UTC0"}, {Path: "reach.time-server.new.address", Text: "198.51.100.56"}}},
		}},
		{At: 14 * m, Actions: []plan.Action{
			{Kind: plan.ActProbePlace, Probe: 1, Value: 4, Damp: 20, Change: plan.Change{Lasts: 30 * vtime.Second}},
		}},
		{At: 15 * m, Actions: []plan.Action{
			{Kind: plan.ActFirmware, Update: plan.Update{Do: "load", Release: everyRelease(), Fault: "garbled", Takes: 30 * vtime.Second}},
			{Kind: plan.ActHostKey}, {Kind: plan.ActLabel}, {Kind: plan.ActReset, Order: "accounts"},
		}},
		{At: 16 * m, Actions: []plan.Action{
			{Kind: plan.ActFirmware, Update: plan.Update{Do: "switch"}},
			{Kind: plan.ActSignIn, SignIn: &plan.SignIn{User: "carla", Types: "own", Surface: "ssh", Times: 1, Stays: 3 * m, Then: plan.PullsLead}},
		}},
		{At: 17 * m, Actions: []plan.Action{
			{Kind: plan.ActSignIn, SignIn: &plan.SignIn{User: "carla", Types: "wrong", Surface: "serial", From: "198.51.100.7", Times: 3, Then: plan.SignsOut}},
			{Kind: plan.ActAccount, Account: &plan.AccountChange{User: "dora", Do: "add", Role: snap.Viewer}},
			{Kind: plan.ActLoginServer, Order: "down"},
		}},
	}...)
}

func everyRelease() *snap.Release {
	r := &snap.Release{
		Model: "Card", Version: "4.6", Note: "better", After: "4.5", Resets: "accounts", BootMs: 50_000, FailTest: true, NewEngine: true, NewHostKey: true,
		Settings: []snap.ReleaseSetting{{Path: "reach.mode", Value: "dhcp"}, {Path: "access.write-community"}},
	}
	for i, q := range everyQuirk() {
		r.Quirks = append(r.Quirks, snap.ReleaseQuirkOf(q, i == 0))
	}
	return r
}

func everyExpect() []plan.Expect {
	cond := func(text string) plan.Cond { return plan.Cond{Text: text} }
	return []plan.Expect{
		{Name: "one", Form: plan.Always, That: cond("hosts_cut == 0"), After: ptr(cond("ups.on_battery")), Until: ptr(cond("source.good"))},
		{Name: "two", Form: plan.NeverHolds, That: cond("hosts_cut > 0")},
		{Name: "three", Form: plan.Once, That: cond("ups.on_battery")},
		{Name: "four", Form: plan.At, That: cond("source.good"), Time: 5 * vtime.Second},
		{Name: "five", Form: plan.AtEnd, That: cond("source.good")},
		{Name: "six", Form: plan.By, That: cond("hosts.app.ended == 'clean'"), Time: 20 * vtime.Minute},
		{Name: "seven", Form: plan.Within, That: cond("groups.first.on"), Time: 30 * vtime.Second, After: ptr(cond("t_s > 60"))},
	}
}

// TestSecondFeed: what the bypass is fed from, and an entry that changes it.
func TestSecondFeed(t *testing.T) {
	const text = `
title = "two feeds"
run_for = "10m"
[ups]
topology = "VFI"
bypass = { supply = "second" }
[[at]]
time = "1m"
bypass_source = { sag_pct = 40, lasts = "1s" }
[[at]]
time = "2m"
source = "lost"
bypass_source = "lost"
`
	p, err := Load("two.toml", []byte(text), Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := [][]plan.Action{
		{{Kind: plan.ActBypassSource, Change: plan.Change{Volts: 92, Hz: 50, Lasts: vtime.Second}}},
		{{Kind: plan.ActSource}, {Kind: plan.ActBypassSource}},
	}
	if p.UPS.Bypass.Supply != plan.BypassSecond {
		t.Errorf("supply %v", p.UPS.Bypass.Supply)
	}
	for i, e := range p.Entries {
		if diff := cmp.Diff(want[i], e.Actions); diff != "" {
			t.Errorf("entry %d (-want +got):\n%s", i, diff)
		}
	}
}

func library(name string) blocks.Block {
	b, _ := blocks.ByName(name)
	return b
}

// A cell that fit wrote stands for a block.
func TestParams(t *testing.T) {
	const text = `
title = "Own cell"
run_for = "10m"
[battery]
series = 2
strings = 3
params = { name = "ours", c_ah = 7.5, a1 = 2.4, lambda1_per_h = 24, a2 = 0.95, lambda2_per_h = 0.80, e0_v = 2.14, es_v = 0.20, r_ohm = 0.0090, b_v = 0.110 }
`
	p, err := Load("own.toml", []byte(text), Options{})
	if err != nil {
		t.Fatal(err)
	}
	cell := battery.Params{
		C: 7.5, N: 2, Modes: [battery.MaxModes]battery.Mode{{A: 2.4, Lambda: 24}, {A: 0.95, Lambda: 0.80}},
		E0: 2.14, Es: 0.20, R: 0.0090, B: 0.110,
	}
	b := p.Battery
	if b.Block != "ours" || b.Params() != cell || b.Cells != 12 {
		t.Errorf("%+v", b)
	}
	if want := cell.CapacityIn(20, 1.75); b.CapacityAh != want || math.Abs(b.ChargeA-0.6*want) > 1e-9 {
		t.Errorf("capacity %v Ah, charger %v A; the cell has %v Ah", b.CapacityAh, b.ChargeA, want)
	}
}

func TestCapacityAlone(t *testing.T) {
	p, err := Load("small.toml", []byte("title = 'x'\nrun_for = '1h'\n[battery]\ncapacity_ah = 4.5\n"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := p.Battery.Params(), battery.FromC20(4.5); got != want || p.Battery.Block != "" {
		t.Errorf("%+v", p.Battery)
	}
}

func everyAlert() *snap.AlertSettings {
	v3 := snap.Receiver{
		Name: "receiver-3", To: netip.MustParseAddrPort("198.51.100.21:162"), Version: "v3", User: "alerts", Level: "authNoPriv",
		AlertRule: snap.AlertRule{Classes: 1<<snap.ClassPower | 1<<snap.ClassBattery, Least: snap.Warning.Rank()},
		Inform:    true, Retries: 4, Timeout: 3 * vtime.Second,
	}
	return &snap.AlertSettings{
		Confirm: 7 * vtime.Second, Settle: 40 * vtime.Second, ExpiryDays: 30,
		Mail: snap.MailSettings{
			Server: "relay.example", Port: 587, Security: snap.MailTLS, Trust: "any", User: "card", Password: snap.NewSecret("relay phrase"),
			From: "card@site.example", LateAfter: 2 * vtime.Minute, Expiry: 3 * vtime.Hour, DigestEvery: 12 * vtime.Hour,
		},
		Recipients: []snap.Recipient{{
			Name: "desk", Address: "desk@site.example", Classes: 1<<snap.ClassPower | 1<<snap.ClassBattery, Least: snap.Critical, Mode: snap.MailBoth,
		}},
		Syslog: []snap.SyslogServer{{
			Name: "log", Server: "198.51.100.30", Port: 6514, Transport: snap.SyslogTLS, Format: snap.Syslog3164, Trust: "any", Facility: 20,
			Classes: 1 << snap.ClassSecurity, Least: snap.Warning,
		}},
		Receivers: []snap.Receiver{
			{Name: "receiver-1", To: netip.MustParseAddrPort("198.51.100.20:162"), Version: "v1", Community: snap.NewSecret("tell"), Retries: 3, Timeout: 2 * vtime.Second},
			{Name: "receiver-2", To: netip.MustParseAddrPort("[2001:db8::5]:1162"), Version: "v2c", Community: snap.NewSecret("look"), Retries: 3, Timeout: 2 * vtime.Second},
			v3,
		},
	}
}
