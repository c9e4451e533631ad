package trace_test

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/trace"
	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestGolden plays whole scenarios; their traces are the same on every machine.
func TestGolden(t *testing.T) {
	files, err := filepath.Glob("testdata/*.toml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no scenarios: %v", err)
	}
	for _, file := range files {
		src, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		r := playtest.Start(t, string(src))
		r.End()
		golden := strings.TrimSuffix(file, ".toml") + ".trace"
		if *update {
			if err := os.WriteFile(golden, []byte(r.Trace()), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(want), r.Trace()); diff != "" {
			t.Errorf("%s (-want +got); -update writes it anew:\n%s", golden, diff)
		}
	}
}

// TestOneLine: an event is one line, whatever somebody put into its text.
func TestOneLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := site.Event{Tick: 1500, Subject: rapid.String().Draw(t, "subject"), Text: rapid.String().Draw(t, "text")}
		line := trace.Line(e)
		if strings.ContainsAny(line, "\n\r\v\f\x00\x1b\u0085\u2028\u2029") || len(strings.Split(line, "\n")) != 1 {
			t.Fatalf("%q", line)
		}
	})
	got := trace.Line(site.Event{Tick: 1500, Subject: "host a\nb", Text: "x\r\ny\u2028z\x9b"})
	if want := "0:00:01.500 host a b: x  y z\ufffd"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestFrame: readings follow the events of an instant; without events there is
// nothing to be read.
func TestFrame(t *testing.T) {
	var b strings.Builder
	w := trace.New(&b, &plan.Plan{Title: "two\nlines", Seed: 9})
	s := &snap.Site{}
	s.UPS.Source, s.UPS.OnBatterySince = snap.SourceNormal, vtime.Never
	s.Tick, s.Battery.Amps = 1234, -0.001
	w.Frame(nil, s)
	w.Frame([]site.Event{{Tick: 1234, Subject: "a", Text: "b"}, {Tick: 1234, Subject: "c", Text: "d"}}, s)
	w.End(s)
	want := `# ridethrough trace 1, seed 9: two lines
0:00:01.234 a: b
0:00:01.234 c: d
0:00:01.234 = normal in 0.0 V, load 0 W, battery 0.00 % 0.00 V +0.00 A 0.00 C, runtime 0 s, on battery no
0:00:01.234 end
0:00:01.234 = normal in 0.0 V, load 0 W, battery 0.00 % 0.00 V +0.00 A 0.00 C, runtime 0 s, on battery no
`
	if diff := cmp.Diff(want, b.String()); diff != "" || w.Lines() != 6 || w.Err() != nil {
		t.Errorf("%d lines, %v (-want +got):\n%s", w.Lines(), w.Err(), diff)
	}
}

type full struct{ room int }

var errFull = errors.New("no space left")

func (f *full) Write(p []byte) (int, error) {
	if f.room--; f.room < 0 {
		return 0, errFull
	}
	return len(p), nil
}

// TestErrorSticks: nothing is written behind what could not be written.
func TestErrorSticks(t *testing.T) {
	f := &full{room: 2}
	w := trace.New(f, &plan.Plan{})
	s := &snap.Site{}
	for range 3 {
		w.End(s)
	}
	if !errors.Is(w.Err(), errFull) || f.room != -1 {
		t.Errorf("%v after %d more writes", w.Err(), -1-f.room)
	}
}
