package scenario

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/rogpeppe/go-internal/txtar"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

var update = flag.Bool("update", false, "rewrite what is generated")

func TestDefaultIsRight(t *testing.T) {
	name, src := Default()
	if err := Check(name, src); err != nil {
		t.Fatal(err)
	}
}

// TestEverythingUsesEveryKey keeps everything.toml complete.
func TestEverythingUsesEveryKey(t *testing.T) {
	src := newSource("everything.toml", readFile(t, "testdata", "everything.toml"))
	root, err := parse(src)
	if err != nil {
		t.Fatal(err)
	}
	for _, missing := range unusedKeys(reflect.TypeFor[file](), []*node{root}, "") {
		if strings.HasPrefix(missing, ".ups.high_efficiency") || missing == ".ups.walk_in" || missing == ".ups.bypass.supply" || missing == ".at.bypass_source" { // not of this topology
			continue
		}
		if missing == ".fleet" || missing == ".at.devices" { // hosts of a fleet are no processes; see TestMember
			continue
		}
		if missing == ".unit" || missing == ".group.unit" || missing == ".at.unit" || missing == ".policy.units" { // see TestUnits
			continue
		}
		if missing != ".battery.capacity_ah" && missing != ".battery.params" { // instead of block
			t.Errorf("everything.toml does not use %s", missing)
		}
	}
}

// unusedKeys lists the keys of the schema struct that none of the tables has.
func unusedKeys(schema reflect.Type, tables []*node, path string) []string {
	var unused []string
	for _, f := range fieldsOf(schema) {
		var found []*node
		for _, n := range tables {
			if kid := n.kids[f.key]; kid != nil && kid.shape == arrayShape {
				found = append(found, kid.items...)
			} else if kid != nil {
				found = append(found, kid)
			}
		}
		if len(found) == 0 {
			unused = append(unused, path+"."+f.key)
		} else if sub, _, ok := tableOf(f.typ); ok {
			unused = append(unused, unusedKeys(sub, found, path+"."+f.key)...)
		}
	}
	return unused
}

// TestInvalid loads the files of invalid.txtar; each is followed by the one
// line that it must be refused with.
func TestInvalid(t *testing.T) {
	const path = "testdata/invalid.txtar"
	archive, err := txtar.ParseFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(archive.Files); i += 2 {
		in, want := archive.Files[i], &archive.Files[i+1]
		t.Run(in.Name, func(t *testing.T) {
			name, variant, _ := strings.Cut(in.Name, " with ")
			_, err := Load(name, in.Data, Options{Variant: variant})
			got := fmt.Sprintln(err)
			if *update {
				want.Data = []byte(got)
			}
			if got != string(want.Data) || err == nil {
				t.Errorf("got  %swant %s", got, want.Data)
			}
		})
	}
	if *update {
		if err := os.WriteFile(path, txtar.Format(archive), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// TestTooMuch: what could cost time or memory is refused at once.
func TestTooMuch(t *testing.T) {
	const head = "title='x'\nrun_for='1h'\n"
	for _, tc := range []struct{ src, want string }{
		{head + strings.Repeat("#\n", 1<<19), "f:1:1: the file has more than 1048576 bytes; expected fewer: is it a scenario?"},
		{head + "#" + strings.Repeat("x", 9000), "f:3:1: the line has 9001 bytes; expected at most 8192"},
		{head + "a=" + strings.Repeat("[", 4000), "f:3:4002: not TOML"},
		{head + "a=" + strings.Repeat("[", 4000) + strings.Repeat("]", 4000), "f:3:1: more than 12 tables and arrays inside each other; expected fewer"},
		{head + "a=" + strings.Repeat("{a=", 1300) + "1" + strings.Repeat("}", 1300), "f:3:37: more than 12 tables and arrays inside each other; expected fewer"},
		{head + strings.Repeat("a.", 2000) + "a=1", "f:3:27: more than 12 tables and arrays inside each other; expected fewer"},
		{head + "[" + strings.Repeat("a.", 2000) + "a]", "f:3:28: more than 12 tables and arrays inside each other; expected fewer"},
		{head + strings.Repeat("k", 200) + "=1", "f:3:1: the key has 200 bytes; expected at most 128"},
		{head + "a=[" + strings.Repeat("1,\n", 30000) + "]", "f:19997:1: the file has more than 20000 keys and values; expected fewer"},
		{head + strings.Repeat("[[host]]\nname='a'\ndraw_w=1\n", 501), "f:1503:3: host has 501 items; expected at most 500"},
	} {
		_, err := Load("f", []byte(tc.src), Options{})
		if got := fmt.Sprint(err); !strings.HasPrefix(got, tc.want) {
			t.Errorf("got  %.200s\nwant %s", got, tc.want)
		}
	}
}

func TestVariant(t *testing.T) {
	src := readFile(t, "testdata", "everything.toml")
	got, err := Load("everything.toml", src, Options{Variant: "other"})
	if err != nil {
		t.Fatal(err)
	}
	want := everything()
	atLines(want, string(src))
	want.Expects[3].Time = 6 * vtime.Second
	want.Card.Receivers[0].Version = "v2c"
	want.Card.Settings.Alerts.Receivers[0].Version = "v2c"
	want.Entries[0].Actions = []plan.Action{{Kind: plan.ActSource}}
	want.Entries[1].At = 90 * vtime.Second
	want.Hosts[1].Needs = nil
	if diff := cmp.Diff(want, got, plans); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	variants, err := Variants("everything.toml", src)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]Variant{{Name: "other", Why: "to show", Misses: []string{"one", "seven"}}}, variants); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// TestLabel: the factory label follows from seed and serial number alone, and
// no two cards share a word of it. The words are frozen: a change would lock
// people out of sites that they have configured.
func TestLabel(t *testing.T) {
	seen := map[string]bool{}
	for seed := range uint64(200) {
		serial := serialNumber(seed)
		for _, word := range []string{serial, hardwareAddress(seed), community(seed, serial, "read"), community(seed, serial, "write")} {
			if seen[word] {
				t.Fatalf("seed %d: %q comes a second time", seed, word)
			}
			seen[word] = true
		}
	}
	got := []string{serialNumber(1), hardwareAddress(1), community(1, serialNumber(1), "read"), community(1, serialNumber(1), "write")}
	want := []string{"RT0CC95ADC9D", "02:83:59:d6:67:72", "read-d0889c989109", "write-70598fef9774"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func TestInjector(t *testing.T) {
	p, err := Load("everything.toml", readFile(t, "testdata", "everything.toml"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	inject := Injector(p)
	got, err := inject("source = { sag_pct = 50 }\nhost = 'app'\norder = 'stop'\nalarm = { raise = 'fuse_failure' }\noutlet = { group = 'second', order = 'off' }\n")
	if err != nil {
		t.Fatal(err)
	}
	want := plan.Entry{Line: 1, Actions: []plan.Action{
		{Kind: plan.ActSource, Change: plan.Change{Volts: 60, Hz: 60}},
		{Kind: plan.ActHost, Host: 1, Order: "stop"},
		{Kind: plan.ActAlarm, Alarm: snap.AlarmFuseFailure, On: true},
		{Kind: plan.ActSwitch, Group: 1, Order: "off", By: "operator"},
	}}
	if diff := cmp.Diff(want, got, plans); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	for text, want := range map[string]string{
		"source = 'lots'":              "entry:1:10: source is the text \"lots\"; expected \"lost\" or \"normal\", or a table such as { sag_pct = 70, lasts = \"300ms\" }; did you mean \"lost\"?",
		"time = '5m'\nsource = 'lost'": "entry:1:8: the entry has a time or a condition; expected neither: it happens at once",
		"host = 'apq'\norder = 'stop'": "entry:1:8: there is no host \"apq\"; expected one of store, app, twin; did you mean \"app\"?",
		"":                             "entry:1:1: the entry does nothing; expected source, card, ups_link, test, host, alarm, battery, health, charger, quirk, network, link, dhcp, output, generator, input, bypass_source, cooling, fan, probe, contact, bypass, inverter, high_efficiency, outlet, remote_switching, server, policy, try, time_server, clock, settings, firmware, label, reset, sign_in, account, login_server, charge_pct or note",
		"outlet = { group = 'secnd', order = 'on' }": "entry:1:20: there is no group \"secnd\"; expected one of first, second, third; did you mean \"second\"?",
		"source":                         "entry:1:6: not TOML: expected '=' after key",
		strings.Repeat("#", maxLine+100): "entry:1:1: the line has 8292 bytes; expected at most 8192",
	} {
		if _, err := inject(text); fmt.Sprint(err) != want {
			t.Errorf("%.40q:\n got %v\nwant %s", text, err, want)
		}
	}
}

// TestProblemIsOneLine: neither a file nor its name can forge a second line.
func TestProblemIsOneLine(t *testing.T) {
	_, err := Load("a\nb.toml", []byte("title = 'x'\nrun_for = '1h'\n\"k\\n\\u2028\" = 1\n"), Options{})
	if err == nil || strings.ContainsAny(err.Error(), "\n\r\u2028") {
		t.Errorf("%q", err)
	}
}

func FuzzLoad(f *testing.F) {
	_, src := Default()
	f.Add(src)
	f.Add([]byte("title='x'\nrun_for='1h'\n[[host]]\nname='a'\ndraw_w=1\nneeds=['a']\n"))
	f.Add([]byte("a.b=1\n[a]\n[[a.c]]\n"))
	f.Add([]byte("title='x'\nrun_for='1h'\n[[variant]]\nname='v'\nwhy='w'\nset={'host.1.name'=1, 'a..b'=2, '.'=3}\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		var p *Problem
		variants, err := Variants("f.toml", src)
		if err == nil {
			for _, v := range variants {
				if _, err := Load("f.toml", src, Options{Variant: v.Name}); err != nil && !errors.As(err, &p) {
					t.Errorf("variant %q: %T %v", v.Name, err, err)
				}
			}
			return
		}
		if !errors.As(err, &p) || p.Line < 1 || p.Column < 1 {
			t.Errorf("%T %v", err, err)
		}
		if text := err.Error(); strings.ContainsAny(text, "\n\r") || !strings.HasPrefix(text, "f.toml:") {
			t.Errorf("not one line: %q", text)
		}
	})
}

func BenchmarkLoad(b *testing.B) {
	name, src := Default()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Load(name, src, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
