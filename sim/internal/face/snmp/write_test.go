package snmp

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

func num(n int64) ber.Value      { return ber.Value{Tag: ber.Integer, Int: n} }
func str(s string) ber.Value     { return ber.Value{Tag: ber.OctetString, Bytes: []byte(s)} }
func ident(oid string) ber.Value { return ber.Value{Tag: ber.ObjectID, OID: ber.MustOID(oid)} }

// nameOf is the scalar's only instance, or the first row of a column.
func nameOf(variable string) string {
	x := model.Lookup(variable)
	if x.Table != nil {
		return x.OID.String() + ".1"
	}
	return x.OID.String() + ".0"
}

// write asks to set variables, given as name and value by turns.
func write(version int32, community string, pairs ...any) req {
	r := req{version: version, community: community, kind: ber.SetRequest, id: 77}
	for i := 0; i < len(pairs); i += 2 {
		name := pairs[i].(string)
		if !strings.Contains(name, ".") {
			name = nameOf(name)
		}
		r.names, r.values = append(r.names, name), append(r.values, pairs[i+1].(ber.Value))
	}
	return r
}

// attempts is what may be written to a variable, and the status that it meets.
func attempts(x *model.Variable) map[Status][]ber.Value {
	s := x.Syntax
	switch s.Tag {
	case ber.OctetString:
		return map[Status][]ber.Value{
			NoError:     {str(""), str(strings.Repeat("a", int(s.Max)))},
			WrongType:   {num(1), ident("1.3"), {Tag: ber.Null}, {Tag: ber.Opaque}},
			WrongLength: {str(strings.Repeat("a", int(s.Max)+1))},
			WrongValue:  {str("caf\xe9")},
		}
	case ber.ObjectID:
		return map[Status][]ber.Value{
			NoError:   {ident("1.3.6.1.2.1.33.1.7.7.4"), ident("0.0")},
			WrongType: {num(1), str("1.3.6")},
		}
	}
	values := map[Status][]ber.Value{
		NoError:   {num(s.Min), num(s.Max)},
		WrongType: {str("1"), {Tag: ber.Gauge32, Int: 1}, {Tag: ber.Counter32, Int: 1}, {Tag: ber.TimeTicks, Int: 1}},
	}
	if s.Min > -1<<31 {
		values[WrongValue] = append(values[WrongValue], num(s.Min-1))
	}
	if s.Max < 1<<31-1 {
		values[WrongValue] = append(values[WrongValue], num(s.Max+1))
	}
	return values
}

// TestWriteMatrix writes every writable variable well and badly, alone and
// behind one that is right, in both versions.
func TestWriteMatrix(t *testing.T) {
	tried := 0
	for _, x := range model.All() {
		if x.Access != model.ReadWrite {
			continue
		}
		tried++
		other := "sysContact"
		if x.Name == other {
			other = "sysName"
		}
		for status, values := range attempts(x) {
			for _, value := range values {
				for _, version := range []int32{ber.V1, ber.V2c} {
					checkWrite(t, write(version, "steer", x.Name, value), status, 1)
					checkWrite(t, write(version, "steer", other, str("ok"), x.Name, value), status, 2)
				}
			}
		}
	}
	if tried != 23 {
		t.Errorf("%d variables were writable", tried)
	}
}

// checkWrite holds that r meets the status at the index, and reached the engine
// as one command, or not at all.
func checkWrite(t *testing.T, r req, status Status, index int32) {
	t.Helper()
	f := demo()
	m := ask(t, New(f, Config{MaxSize: 2000}), r)
	status = status.in(r.version)
	if status == NoError {
		index = 0
	}
	if m.PDU.Status != int32(status) || m.PDU.Index != index {
		t.Errorf("%v = %+v: status %d at %d, want %d at %d", r.names, r.values, m.PDU.Status, m.PDU.Index, status, index)
	}
	var asked ber.Message
	if err := asked.Decode(r.encode()); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(asked.PDU.VarBinds, m.PDU.VarBinds); diff != "" {
		t.Errorf("%v: the reply carries other variables: %s", r.names, diff)
	}
	commands := f.submitted()
	if status != NoError {
		if len(commands) != 0 {
			t.Errorf("%v = %+v was submitted: %+v", r.names, r.values, commands)
		}
		return
	}
	if len(commands) != 1 || len(commands[0].Sets) != len(r.names) {
		t.Errorf("%v: submitted %+v", r.names, commands)
	}
}

func TestWriteCommand(t *testing.T) {
	f := demo()
	r := write(ber.V2c, "steer",
		"upsTestSpinLock", num(1), "upsTestId", ident("1.3.6.1.2.1.33.1.7.7.5"),
		"upsConfigOutputFreq", num(600), "upsIdentName", str("Rack 2"), "upsAutoRestart", num(2), "upsShutdownAfterDelay", num(-1))
	if m := ask(t, New(f, Config{}), r); m.PDU.Status != 0 {
		t.Fatalf("status %d at %d", m.PDU.Status, m.PDU.Index)
	}
	want := []snap.Command{{
		Op: snap.OpSet, By: snap.Actor{Surface: "snmp", Peer: "198.51.100.7:40000"},
		Sets: []snap.Assignment{
			{Var: snap.VarTestSpinLock, Int: 1}, {Var: snap.VarTestID, Int: int64(snap.TestDeepCalibration)},
			{Var: snap.VarOutputFreq, Int: 600}, {Var: snap.VarIdentName, Text: "Rack 2"},
			{Var: snap.VarAutoRestart, Int: 2}, {Var: snap.VarShutdownAfter, Int: -1},
		},
	}}
	if diff := cmp.Diff(want, f.submitted()); diff != "" {
		t.Error(diff)
	}
}

func TestWriteNames(t *testing.T) {
	tests := []struct {
		name   string
		r      []any
		by     string
		status Status
		index  int32
	}{
		{"read only", []any{"upsBatteryVoltage", num(1)}, "steer", NotWritable, 1},
		{"read-only row", []any{alarmDescr + ".2", ident("1.3")}, "steer", NotWritable, 1},
		{"unknown", []any{"1.3.6.1.2.1.99.0", num(1)}, "steer", NotWritable, 1},
		{"instance that cannot be", []any{"1.3.6.1.2.1.1.4.1", str("x")}, "steer", NoCreation, 1},
		{"type before instance", []any{"1.3.6.1.2.1.1.4.1", num(1)}, "steer", WrongType, 1},
		{"read community", []any{"sysContact", str("x")}, "watch", NoAccess, 1},
		{"twice", []any{"sysContact", str("x"), "sysName", str("y"), "sysContact", str("z")}, "steer", InconsistentValue, 3},
		{"second of three", []any{"sysContact", str("x"), "upsRebootWithDuration", num(301), "sysName", num(1)}, "steer", WrongValue, 2},
		{"nothing", nil, "steer", NoError, 0},
	}
	for _, tt := range tests {
		for _, version := range []int32{ber.V1, ber.V2c} {
			f := demo()
			a := New(f, Config{})
			m := ask(t, a, write(version, tt.by, tt.r...))
			if m.PDU.Status != int32(tt.status.in(version)) || m.PDU.Index != tt.index {
				t.Errorf("%s, version %d: status %d at %d", tt.name, version, m.PDU.Status, m.PDU.Index)
			}
			if c := f.submitted(); len(c) != 0 {
				t.Errorf("%s: submitted %+v", tt.name, c)
			}
			if got, want := a.counters.Load(model.InBadCommunityUses) == 1, tt.by == "watch"; got != want {
				t.Errorf("%s: forbidden use counted: %v", tt.name, got)
			}
		}
	}
}

// TestWriteRefusedByEngine holds the mapping of RFC 3584 section 4.4 at the
// index that the engine names.
func TestWriteRefusedByEngine(t *testing.T) {
	tests := []struct {
		result  snap.Result
		v1, v2c Status
		index   int32
	}{
		{snap.Result{Status: snap.Inconsistent, Index: 1}, BadValue, InconsistentValue, 2},
		{snap.Result{Status: snap.WrongValue, Index: 0}, BadValue, WrongValue, 1},
		{snap.Result{Status: snap.Busy}, GenErr, ResourceUnavailable, 1},
		{snap.Result{Status: snap.Inconsistent, Index: 99}, BadValue, InconsistentValue, 2},
	}
	for _, tt := range tests {
		for version, want := range map[int32]Status{ber.V1: tt.v1, ber.V2c: tt.v2c} {
			f := demo()
			f.answer = tt.result
			m := ask(t, New(f, Config{}), write(version, "steer", "upsTestSpinLock", num(1), "upsTestId", ident("0.0")))
			if m.PDU.Status != int32(want) || m.PDU.Index != tt.index || len(m.PDU.VarBinds) != 2 {
				t.Errorf("%+v, version %d: status %d at %d", tt.result, version, m.PDU.Status, m.PDU.Index)
			}
		}
	}
	f := demo()
	f.answer = snap.Result{Status: snap.Gone}
	if m := ask(t, New(f, Config{}), write(ber.V2c, "steer", "sysName", str("x"))); m != nil {
		t.Errorf("after the end: %+v", m)
	}
}

// TestWriteTooBig holds that what could not be answered is not done.
func TestWriteTooBig(t *testing.T) {
	f := demo()
	a := New(f, Config{MaxSize: 484})
	m := ask(t, a, write(ber.V2c, "steer", "sysContact", str(strings.Repeat("a", 255)), "sysName", str(strings.Repeat("b", 255))))
	if m.PDU.Status != int32(TooBig) || len(f.submitted()) != 0 {
		t.Errorf("status %d", m.PDU.Status)
	}
}
