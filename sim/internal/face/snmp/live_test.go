package snmp

import (
	"strconv"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

const (
	ms     = vtime.Tick(1)
	sec    = vtime.Second
	minute = vtime.Minute
)

// live is a scenario with the agent of its card: requests go the way that those of
// a manager go, and time moves when the test says so.
type live struct {
	*playtest.Run
	t     *testing.T
	agent *Agent
}

func (l *live) Device() *snap.Device              { return &l.Site.Device }
func (l *live) Now() vtime.Tick                   { return l.Engine.Now() }
func (l *live) Submit(c snap.Command) snap.Result { return l.Do(c) }

// begin is the scenario of one host of 600 W on the default unit, and what else src
// has; its card has the communities look and steer.
func begin(t *testing.T, src string) *live {
	t.Helper()
	const head = "title = \"live\"\nrun_for = \"100h\"\n"
	const card = "[card]\naddress = \"192.0.2.10/24\"\nread_community = \"look\"\nwrite_community = \"steer\"\n"
	const host = "[[host]]\nname = \"db\"\ndraw_w = 600\n"
	if !strings.Contains(src, "[[host]]") {
		src += host
	}
	l := &live{t: t, Run: playtest.Start(t, head+card+src)}
	l.agent = New(l, Config{MaxSize: 8000})
	return l
}

// get is the value of an instance, named as variable.instance, in short form.
func (l *live) get(name string) string {
	l.t.Helper()
	m := ask(l.t, l.agent, req{version: ber.V2c, community: "look", kind: ber.GetRequest, id: 1, names: []string{instance(name)}})
	if m == nil {
		return "silence"
	}
	return short(m.PDU.VarBinds[0].Value)
}

// instance is the identifier of variable.instance; of a scalar the instance may be
// left out.
func instance(name string) string {
	variable, row, ok := strings.Cut(name, ".")
	if !ok {
		row = "0"
	}
	return model.Lookup(variable).OID.String() + "." + row
}

func short(v ber.Value) string {
	switch v.Tag {
	case ber.OctetString:
		return string(v.Bytes)
	case ber.ObjectID:
		return v.OID.String()
	case ber.NoSuchObject:
		return "no such object"
	case ber.NoSuchInstance:
		return "no such instance"
	}
	return strconv.FormatInt(v.Int, 10)
}

// want fails unless the instances, given as name and value by turns, read so.
func (l *live) want(when string, pairs ...string) {
	l.t.Helper()
	for i := 0; i < len(pairs); i += 2 {
		if got := l.get(pairs[i]); got != pairs[i+1] {
			l.t.Errorf("%s: %s is %s, want %s", when, pairs[i], got, pairs[i+1])
		}
	}
}

// set writes variables, given as name and value by turns, in one request.
func (l *live) set(version int32, pairs ...any) (Status, int32) {
	l.t.Helper()
	m := ask(l.t, l.agent, write(version, "steer", pairs...))
	return Status(m.PDU.Status), m.PDU.Index
}

// column is a column by walking it: instance and value by turns, as one text.
func (l *live) column(name string) string {
	l.t.Helper()
	var list []string
	prefix := model.Lookup(name).OID
	for at := prefix; ; {
		m := ask(l.t, l.agent, req{version: ber.V2c, community: "look", kind: ber.GetNextRequest, id: 1, names: []string{at.String()}})
		vb := &m.PDU.VarBinds[0]
		if !vb.Name.HasPrefix(prefix) || vb.Value.Tag == ber.EndOfMibView {
			return strings.Join(list, " ")
		}
		list = append(list, vb.Name[len(prefix):].String()+"="+short(vb.Value))
		at = vb.Name.Child()
	}
}

const withProbes = `
[room]
temp_c = 22
volume_m3 = 100000
outside_c = 22
[[probe]]
name = "inlet"
every = "10s"
lag = "0s"
noise_k = 0
humidity = true
low_warn_c = 5
high_warn_c = 30
high_critical_c = 35
hysteresis_k = 2
delay = "30s"
contact = [{ name = "door" }, { name = "leak", rests = "closed", supervised = true, debounce = "1s" }]
[[probe]]
name = "aisle"
every = "15s"
lag = "0s"
noise_k = 0
offset_k = 3.5
contact = [{ name = "smoke", rests = "closed" }]
`

// TestParts: ENTITY-MIB (RFC 6933). Every part but the first lies within another,
// the parts of a whole have places of their own, and the sensors are those of
// ENTITY-SENSOR-MIB.
func TestParts(t *testing.T) {
	l := begin(t, withProbes).at(minute)
	for column, want := range map[string]string{
		"entPhysicalContainedIn": "1=0 2=1 3=1 4=1 5=4 6=3 100=4 101=100 102=100 103=100 104=100 200=4 201=200 203=200",
		// chassis(3), powerSupply(6), battery(14), module(9), port(10), sensor(8)
		"entPhysicalClass":        "1=3 2=6 3=14 4=9 5=10 6=8 100=9 101=8 102=8 103=8 104=8 200=9 201=8 203=8",
		"entPhysicalParentRelPos": "1=-1 2=1 3=2 4=3 5=1 6=1 100=2 101=1 102=2 103=3 104=4 200=3 201=1 203=2",
		"entPhysicalName": "1=ups 2=power 3=battery 4=card 5=port 6=battery temperature " +
			"100=inlet 101=inlet temperature 102=inlet humidity 103=door 104=leak 200=aisle 201=aisle temperature 203=smoke",
		"entPhysicalIsFRU":  "1=2 2=2 3=1 4=1 5=2 6=2 100=1 101=2 102=2 103=2 104=2 200=1 201=2 203=2",
		"entLastChangeTime": "0=0",
		"entPhySensorType":  "6=8 101=8 102=9 103=12 104=12 201=8 203=12", // celsius(8), percentRH(9), truthvalue(12)
	} {
		if got := l.column(column); got != want {
			t.Errorf("%s: %s, want %s", column, got, want)
		}
	}
	if got := begin(t, "").column("entPhysicalClass"); got != "1=3 2=6 3=14 4=9 5=10 6=8" {
		t.Errorf("without probes: %s", got)
	}
}

// at moves to the tick to.
func (l *live) at(to vtime.Tick) *live { l.To(to); return l }

// TestSensors: ENTITY-SENSOR-MIB (RFC 3433), with the probes' own tables beside it.
// Out of its socket a probe is unavailable and keeps its last reading; it is never 0.
func TestSensors(t *testing.T) {
	l := begin(t, withProbes).at(minute + 7*sec)
	l.want("plugged in",
		"entPhySensorValue.101", "220", "entPhySensorPrecision.101", "1", "entPhySensorScale.101", "9",
		"entPhySensorOperStatus.101", "1", "entPhySensorUnitsDisplay.101", "0.1 degrees Celsius",
		"entPhySensorValueTimeStamp.101", "6000", "entPhySensorValueUpdateRate.101", "10000",
		"entPhySensorValue.102", "45", "entPhySensorPrecision.102", "0", "entPhySensorUnitsDisplay.102", "percent relative humidity",
		"entPhySensorValue.201", "255", "entPhySensorValueTimeStamp.201", "6000", "entPhySensorValueUpdateRate.201", "15000",
		"entPhySensorOperStatus.6", "1", "entPhySensorValueTimeStamp.6", "6700", "entPhySensorValueUpdateRate.6", "0",
		"entPhySensorValue.5", "no such instance", "entPhySensorValue.202", "no such instance",
		"rtProbeName.1", "inlet", "rtProbeState.1", "1", "rtProbeTemperature.1", "220", "rtProbeHumidity.1", "45", "rtProbeSince.1", "0",
		"rtProbeLowCritical.1", "2147483647", "rtProbeLowWarning.1", "50", "rtProbeHighWarning.1", "300", "rtProbeHighCritical.1", "350",
		"rtProbeHysteresis.1", "20", "rtProbeDelay.1", "30000", "rtProbePart.1", "100",
		"rtProbeHumidity.2", "-1", "rtProbePart.2", "200", "rtProbeName.3", "no such instance")
	battery, err := strconv.ParseFloat(l.get("entPhySensorValue.6"), 64)
	if c := l.Site.Battery.TempC; err != nil || battery/10-c > 0.0501 || c-battery/10 > 0.0501 {
		t.Errorf("battery: %v tenths of %v", battery, c)
	}
	l.Inject(`probe = {unplug = "inlet"}`)
	l.at(2*minute).want("out of its socket",
		"entPhySensorOperStatus.101", "2", "entPhySensorOperStatus.102", "2", "entPhySensorValue.101", "220", "entPhySensorValue.102", "45",
		"entPhySensorValueTimeStamp.101", "6000", "entPhySensorOperStatus.201", "1", "entPhySensorValueTimeStamp.201", "12000",
		"rtProbeState.1", "4", "rtProbeSince.1", "6700", "rtProbeTemperature.1", "220")
	l.Inject(`probe = {plug = "inlet"}`)
	l.at(2*minute+5*sec).want("in again, not yet measured", "entPhySensorOperStatus.101", "2")
	l.at(2*minute+10*sec).want("measured", "entPhySensorOperStatus.101", "1", "entPhySensorValueTimeStamp.101", "13000", "rtProbeState.1", "1")
	l.Inject(`alarm = {raise = "communications_lost"}`)
	l.at(3*minute).want("without the unit", "entPhySensorOperStatus.6", "2", "entPhySensorOperStatus.101", "1")
}

// TestContacts: dry contacts (field row 53). One bounce is one event, a cut loop is
// told where it is supervised, and looks open where it is not.
func TestContacts(t *testing.T) {
	l := begin(t, withProbes).at(minute)
	states := func(when, values, status, own string) {
		t.Helper()
		for column, want := range map[string]string{"entPhySensorValue": values, "entPhySensorOperStatus": status, "rtContactState": own} {
			got := strings.Fields(l.column(column))
			if column != "rtContactState" {
				got = []string{got[3], got[4], got[6]}
			}
			if strings.Join(got, " ") != want {
				t.Errorf("%s: %s %v, want %s", when, column, got, want)
			}
		}
	}
	states("at rest", "103=2 104=2 203=2", "103=1 104=1 203=1", "1=1 2=1 3=1")
	l.Inject(`contact = {name = "door", is = "closed", bounces = "20ms"}`)
	l.at(minute+65*ms).want("still bounces", "rtContactState.1", "1")
	l.at(2 * minute)
	states("door open", "103=1 104=2 203=2", "103=1 104=1 203=1", "1=2 2=1 3=1")
	l.Inject(`contact = {name = "leak", is = "cut"}`).Inject(`contact = {name = "smoke", is = "cut"}`)
	l.at(3 * minute)
	states("wires cut", "103=1 104=2 203=1", "103=1 104=3 203=1", "1=2 2=3 3=2")
	l.Inject(`contact = {name = "leak", is = "open"}`).Inject(`contact = {name = "door", is = "open"}`)
	l.at(4 * minute)
	states("leak", "103=2 104=1 203=1", "103=1 104=1 203=1", "1=1 2=2 3=2")
	l.Inject(`probe = {unplug = "inlet"}`)
	l.at(5 * minute)
	states("probe lost", "103=2 104=2 203=1", "103=2 104=2 203=1", "1=4 2=4 3=2")
	l.want("where", "rtContactName.3", "smoke", "rtContactProbe.3", "2", "rtContactProbe.2", "1", "entPhySensorUnitsDisplay.203", "true or false",
		"entPhySensorPrecision.203", "0", "entPhySensorValueUpdateRate.203", "0")
	var told []string
	for _, n := range l.Sent {
		if n.Kind == snap.NotifyContact {
			told = append(told, strconv.Itoa(int(n.Row))+" "+n.Contact.String())
		}
	}
	if got := strings.Join(told, ", "); got != "1 active, 3 active, 2 fault, 1 normal, 2 active" {
		t.Errorf("told: %s", got)
	}
}

const withGroups = `
[[group]]
name = "racks"
off_delay = "20s"
[[group]]
name = "desks"
on_delay = "1500ms"
[[group]]
name = "wall"
fed_by = "mains"
[[host]]
name = "db"
draw_w = 300
groups = ["racks", "wall"]
[[host]]
name = "web"
draw_w = 100
group = "racks"
[[host]]
name = "desk"
draw_w = 100
group = "desks"
`

// TestOutletTables: groups and hosts as the card knows them. on(1), off(2),
// turningOn(3), turningOff(4), unknown(5); powered(1), unpowered(2), unknown(3).
func TestOutletTables(t *testing.T) {
	l := begin(t, withGroups)
	states := func(when, groups, hosts, live string) {
		t.Helper()
		for column, want := range map[string]string{"rtGroupState": groups, "rtHostPower": hosts, "rtHostSuppliesLive": live} {
			if got := l.column(column); got != want {
				t.Errorf("%s: %s %s, want %s", when, column, got, want)
			}
		}
	}
	l.want("names", "rtGroupName.1", "racks", "rtGroupFedBy.1", "1", "rtGroupFedBy.3", "2", "rtGroupOffDelay.1", "20000", "rtGroupOffDelay.2", "-1",
		"rtGroupOnDelay.2", "1500", "rtHostName.1", "db", "rtHostGroups.1", "racks, wall", "rtHostSupplies.1", "2", "rtHostSupplies.3", "1")
	states("at rest", "1=1 2=1 3=5", "1=1 2=1 3=1", "1=1 2=1 3=1")
	l.set(ber.V2c, "upsShutdownAfterDelay", num(60))
	states("countdown", "1=4 2=1 3=5", "1=1 2=1 3=1", "1=1 2=1 3=1")
	l.at(30 * sec)
	states("shed", "1=2 2=1 3=5", "1=3 2=2 3=1", "1=0 2=0 3=1")
	l.at(60 * sec)
	states("off", "1=2 2=2 3=5", "1=3 2=2 3=2", "1=0 2=0 3=0")
	l.at(2*minute).set(ber.V2c, "upsStartupAfterDelay", num(0))
	states("coming on", "1=1 2=3 3=5", "1=1 2=1 3=2", "1=1 2=1 3=0")
	l.at(2*minute + 2*sec)
	states("on", "1=1 2=1 3=5", "1=1 2=1 3=1", "1=1 2=1 3=1")
}

// TestPortStatus: IF-MIB (RFC 2863) follows the network lead.
func TestPortStatus(t *testing.T) {
	l := begin(t, "").at(minute)
	l.want("at the start", "ifOperStatus.1", "1", "ifAdminStatus.1", "1", "ifLastChange.1", "0")
	if l.Inject(`link = "down"`); l.get("sysUpTime") != "silence" {
		t.Error("the card answers without a link")
	}
	l.at(2 * minute).Inject(`link = "up"`)
	l.want("lead in again", "ifOperStatus.1", "1", "ifLastChange.1", "12000")
	l.Do(snap.Command{Op: snap.OpRestart, By: snap.Actor{Surface: "serial", Role: snap.Administrator}})
	l.at(10*minute).want("after a restart", "ifLastChange.1", "0")
}
