package report

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"github.com/jstemmer/go-junit-report/v2/junit"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

var update = flag.Bool("update", false, "write the golden files anew")

// sample is an invented run with one expectation of each outcome.
func sample() *Result {
	at := func(s vtime.Tick, what snap.WhatKind, subject, text string, from snap.OutputSource, charge float64) Event {
		return Event{Tick: s * vtime.Second, Subject: subject, Text: text, What: snap.What{Kind: what}, Source: from, ChargePct: charge}
	}
	r := &Result{
		Scenario: "sample.toml", Title: "An outage <&> \"quotes\"", Variant: "hasty", Seed: 7,
		Start: time.Date(2026, 3, 2, 7, 55, 0, 0, time.FixedZone("", 3600)),
		Ended: 40 * vtime.Minute, Interrupted: true,
		Verdicts: []expect.Verdict{
			{Name: "nobody is cut", Form: "never hosts_cut > 0", State: expect.Missed, At: 605 * vtime.Second, Because: "it held at 0:10:05.000: hosts_cut = 1"},
			{Name: "it is long", Form: "by 0:45:00.000 t_s > 2500", State: expect.NotReached, At: 40 * vtime.Minute, Because: "the run ended at 0:40:00.000"},
			{Name: "the battery carries", Form: "by 0:01:00.000 ups.on_battery", State: expect.Met, At: vtime.Minute, Because: "it held at 0:01:00.000"},
		},
		Hosts: []snap.Host{
			{Name: "db", State: snap.HostCut, Ended: "cut", Cuts: 1},
			{Name: "web_front", State: snap.HostRunning, Ended: "clean", Stops: 2, Starts: 2},
			{Name: "log", State: snap.HostRunning},
		},
		Events: []Event{
			at(60, snap.WhatElse, "source", "0.0 V 0.00 Hz", snap.SourceBattery, 100),
			at(60, snap.WhatAlarmRaised, "alarm", "on_battery raised", snap.SourceBattery, 100),
			at(60, snap.WhatNotify, "notify", "alarm_added on_battery", snap.SourceBattery, 100),
			at(60, snap.WhatAlarmRaised, "alarm", "input_bad raised", snap.SourceBattery, 100),
			at(60, snap.WhatAlarmCleared, "alarm", "awaiting_power cleared", snap.SourceBattery, 100),
			at(605, snap.WhatGroupOff, "group racks", "off", snap.SourceNone, 12.345),
			at(605, snap.WhatHost, "host web_front", "off", snap.SourceNone, 12.345),
			at(605, snap.WhatHost, "host db", "cut", snap.SourceNone, 12.345),
			at(605, snap.WhatHost, "host log", "off", snap.SourceNone, 12.345),
			at(606, snap.WhatHost, "host log", "off", snap.SourceNone, 12.345),
			at(700, snap.WhatElse, "note", "a line\nthat tries to be \x1b[31mtwo", snap.SourceNormal, 12),
		},
	}
	r.Sent[snap.NotifyOnBattery], r.Sent[snap.NotifyColdStart] = 3, 1
	return r
}

func trials() Trials {
	base := *sample()
	base.Variant, base.Interrupted = "", false
	base.Verdicts = base.Verdicts[2:]
	return Trials{
		{Result: &base},
		{Variant: "hasty", Misses: []string{"nobody is cut", "it is long"}, Result: sample()},
		{Variant: "lazy", Misses: []string{"nobody is cut", "the battery carries"}, Result: sample()},
	}
}

func TestGolden(t *testing.T) {
	nothing := &Result{Scenario: "s.toml", Title: "t", Ended: vtime.Second}
	for name, write := range map[string]func(io.Writer) error{
		"sample.txt":      sample().Text,
		"sample.brief":    sample().Brief,
		"sample.json":     sample().JSON,
		"sample.xml":      sample().JUnit,
		"nothing.txt":     nothing.Text,
		"nothing.json":    nothing.JSON,
		"nothing.xml":     nothing.JUnit,
		"versions.txt":    func(w io.Writer) error { return trials().Text(w, false) },
		"versions.brief":  func(w io.Writer) error { return trials().Text(w, true) },
		"versions.json":   trials().JSON,
		"versions.xml":    trials().JUnit,
		"noversions.text": func(w io.Writer) error { return Trials{}.Text(w, false) },
	} {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			if err := write(&b); err != nil {
				t.Fatal(err)
			}
			path := filepath.Join("testdata", name)
			if *update {
				if err := os.WriteFile(path, b.Bytes(), 0o666); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), b.String()); diff != "" {
				t.Errorf("go test -update rewrites it (-want +got):\n%s", diff)
			}
		})
	}
}

// A schema of our own to read the XML back with: the counts have to be right,
// and a verdict that is not met has to fail.
func TestJUnitCountsNotReachedAsFailure(t *testing.T) {
	var b bytes.Buffer
	if err := sample().JUnit(&b); err != nil {
		t.Fatal(err)
	}
	var got junit.Testsuites
	if err := xml.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if got.Tests != 3 || got.Failures != 2 || got.Skipped != 0 || got.Errors != 0 {
		t.Errorf("tests %d, failures %d, skipped %d, errors %d", got.Tests, got.Failures, got.Skipped, got.Errors)
	}
}

func TestMetIsAboutEveryVerdict(t *testing.T) {
	for _, c := range []struct {
		states []expect.State
		met    bool
	}{
		{nil, true},
		{[]expect.State{expect.Met, expect.Met}, true},
		{[]expect.State{expect.Met, expect.NotReached}, false},
		{[]expect.State{expect.Missed}, false},
		{[]expect.State{expect.Open}, false},
	} {
		r := &Result{}
		for _, s := range c.states {
			r.Verdicts = append(r.Verdicts, expect.Verdict{State: s})
		}
		if r.Met() != c.met {
			t.Errorf("%v: met %v", c.states, r.Met())
		}
	}
}

func TestRecorder(t *testing.T) {
	p := &plan.Plan{Title: "t", Seed: 9, Start: time.Unix(0, 0).UTC()}
	rec := NewRecorder(p, "f.toml", "v")
	s := &snap.Site{ChargePct: 50, Hosts: []snap.Host{{Name: "a", Stops: 1}}}
	s.UPS.Source, s.Tick, s.Sent[snap.NotifyAlarmAdded] = snap.SourceBattery, 20, 4
	events := []site.Event{{Tick: 20, Subject: "x", Text: "y"}}
	rec.Frame(events, s)
	events[0].Text = "reused"
	rec.Frame(nil, s)
	got := rec.Finish(s, []expect.Verdict{{Name: "e"}}, true)
	s.Hosts[0].Stops = 9
	want := &Result{
		Scenario: "f.toml", Title: "t", Variant: "v", Seed: 9, Start: time.Unix(0, 0).UTC(), Ended: 20, Interrupted: true,
		Verdicts: []expect.Verdict{{Name: "e"}}, Hosts: []snap.Host{{Name: "a", Stops: 1}},
		Sent:   snap.Sent{snap.NotifyAlarmAdded: 4},
		Events: []Event{{Tick: 20, Subject: "x", Text: "y", Source: snap.SourceBattery, ChargePct: 50}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("result (-want +got):\n%s", diff)
	}
}

func TestRecorderIsBounded(t *testing.T) {
	rec := NewRecorder(&plan.Plan{}, "", "")
	const burst = 3000
	events := make([]site.Event, burst)
	for range 2 * MaxEvents / burst {
		rec.Frame(events, &snap.Site{})
	}
	r := rec.Finish(&snap.Site{}, nil, false)
	if total := 2 * MaxEvents / burst * burst; len(r.Events) != MaxEvents || r.Unkept != total-MaxEvents {
		t.Errorf("%d kept, %d not, of %d", len(r.Events), r.Unkept, total)
	}
}

func TestLongTimelineKeepsItsEnds(t *testing.T) {
	r := &Result{Unkept: 5}
	for i := range 1000 {
		r.Events = append(r.Events, Event{Tick: vtime.Tick(i), Subject: "card", Text: fmt.Sprint("event ", i)})
	}
	var b strings.Builder
	if err := r.Text(&b); err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]bool{
		"event 0\n": true, "event 119\n": true, "event 120\n": false, "event 919\n": false, "event 920\n": true,
		"event 999\n": true, "800 lines are left out": true, "5 later events": true,
	} {
		if strings.Contains(b.String(), text) != want {
			t.Errorf("%q is there: %v, want %v", text, !want, want)
		}
	}
}

func TestManyNamesAreCounted(t *testing.T) {
	r := &Result{}
	for i := range 9 {
		r.Events = append(r.Events, Event{Subject: fmt.Sprint("host h", i), Text: "stopping", What: snap.What{Kind: snap.WhatHost}})
	}
	lines := r.Timeline()
	if len(lines) != 1 || lines[0].Subject != "hosts" || lines[0].Text != "h0, h1, h2, h3, h4, h5 and 3 more: stopping" {
		t.Errorf("lines %+v", lines)
	}
}

func TestWriteErrorsComeBack(t *testing.T) {
	broken := errors.New("broken")
	r, ts := sample(), trials()
	for i, write := range []func(io.Writer) error{
		r.Text, r.Brief, r.JSON, r.JUnit, ts.JSON, ts.JUnit, func(w io.Writer) error { return ts.Text(w, true) },
	} {
		if err := write(failing{broken}); !errors.Is(err, broken) {
			t.Errorf("writer %d: error %v", i, err)
		}
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

// Whatever stands in a title or a note, text stays on its line and the machine
// formats stay readable.
func FuzzHostileText(f *testing.F) {
	f.Add("]]>", "\x00\x1b[2J")
	f.Add("\xff\xfe", "\u2028\ufffe")
	f.Add("<!--", "&#0;")
	f.Fuzz(func(t *testing.T, title, note string) {
		r := sample()
		r.Title, r.Events[0].Text, r.Verdicts[0].Because = title, note, note
		r.Verdicts[0].Name, r.Variant = title, note
		want := strings.Count(text(t, sample().Text), "\n")
		if got := text(t, r.Text); strings.Count(got, "\n") != want || !utf8.ValidString(got) || strings.Contains(got, "\x1b") {
			t.Errorf("text %q", got)
		}
		var suites junit.Testsuites
		if err := xml.Unmarshal([]byte(text(t, r.JUnit)), &suites); err != nil || suites.Failures != 2 {
			t.Errorf("JUnit: %v, %d failures", err, suites.Failures)
		}
		if !json.Valid([]byte(text(t, r.JSON))) {
			t.Error("not JSON")
		}
	})
}

func text(t *testing.T, write func(io.Writer) error) string {
	t.Helper()
	var b strings.Builder
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestOneLine(t *testing.T) {
	for in, want := range map[string]string{
		"a\nb\tc\r\x1b\x7f\u0085\u2028d": "a b c     d",
		"caf\u00e9 \xff":                 "caf\u00e9 ?",
		"\ufffe\uffff":                   "  ",
	} {
		if got := OneLine(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
