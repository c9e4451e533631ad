package study

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/scenario"
)

// office is the shipped scenario in two versions.
func office(t testing.TB) *Source {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "..", "scenarios", "study-aged-branch.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return &Source{Name: "study-aged-branch.toml", Text: text, Seed: 7, Variants: []string{"", "waits-longer"}}
}

// header is that of a study of s.
func header(t testing.TB, s *Source, runs int, shard Shard) *Header {
	t.Helper()
	h, err := NewHeader(s, s.Name, "v1", runs, shard)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func played(t testing.TB, s *Source, first, last, workers int) []Run {
	t.Helper()
	var all []Run
	n, err := Play(s, first, last, workers, nil, func(runs []Run) error {
		all = append(all, runs...)
		return nil
	})
	if err != nil || n != last && last >= first {
		t.Fatalf("played up to %d: %v", n, err)
	}
	return all
}

func text(t testing.TB, runs []Run) string {
	t.Helper()
	b, err := Lines(runs)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// quick is a site of which hundreds of runs cost little.
func quick() *Source {
	short := strings.NewReplacer(`run_for = "40m"`, `run_for = "5m"`, `lasts = "30m"`, `lasts = "2m"`).Replace(bare)
	return &Source{Name: "x", Seed: 3, Variants: []string{""}, Text: []byte(short + `[policy]
on_battery_for = "30s"
[vary]
battery.age_years = { uniform = [0, 20] }
host.db.draw_w = { normal = { mean = 900, sd = 300 } }
host.db.stop_takes = { lognormal = { median = "30s", p95 = "90s" } }
`)}
}

// A run is the same with any number of workers, alone, and in another block.
func TestRunsDependOnNothingAround(t *testing.T) {
	s := quick()
	whole := text(t, played(t, s, 1, 300, 1))
	for _, workers := range []int{2, 5} {
		if got := text(t, played(t, s, 1, 300, workers)); got != whole {
			t.Errorf("%d workers: another text", workers)
		}
	}
	lines := strings.SplitAfter(whole, "\n")
	if got := text(t, played(t, s, 250, 299, 2)); got != strings.Join(lines[249:299], "") {
		t.Error("runs 250 to 299 alone are other ones")
	}
}

// A mold that has made other plans makes the same as a new one.
func TestPlayersKeepNothing(t *testing.T) {
	s := office(t)
	used, err := NewPlayer(s)
	if err != nil {
		t.Fatal(err)
	}
	for run := 1; run <= 12; run++ {
		got, err := used.Play(run)
		if err != nil {
			t.Fatal(err)
		}
		fresh, err := NewPlayer(s)
		if err != nil {
			t.Fatal(err)
		}
		want, err := fresh.Play(run)
		if diff := cmp.Diff(want, got); diff != "" || err != nil {
			t.Fatalf("run %d: %v\n%s", run, err, diff)
		}
	}
}

func TestDrawsThatDoNotGoTogether(t *testing.T) {
	s := &Source{Name: "x.toml", Seed: 1, Variants: []string{""}, Text: []byte(`title = "x"
run_for = "10m"
[[at]]
name = "a"
time = "1m"
source = "lost"
[vary]
at.a.time = { grid = ["1m", "2m", "11m", "12m"] }
`)}
	n, err := Play(s, 1, 4, 2, nil, func([]Run) error { return nil })
	var problem *scenario.Problem
	if n != 0 || !errors.As(err, &problem) || !strings.HasSuffix(err.Error(), "expected a time up to run_for (in run 3 of the study)") || problem.Line != 8 {
		t.Errorf("%d, %v", n, err)
	}
}

const bare = `title = "x"
run_for = "40m"
[battery]
block = "agm-12v-9ah"
[[host]]
name = "db"
draw_w = 700
stop_takes = "2m"
[[at]]
name = "outage"
time = "1m"
source = { volts = 0, lasts = "30m" }
[[expect]]
name = "clean"
that = "hosts_cut == 0"
always = true
`

// one plays bare with more below it.
func one(t *testing.T, more string) Outcome {
	t.Helper()
	runs := played(t, &Source{Name: "x", Text: []byte(bare + more), Seed: 1, Variants: []string{""}}, 1, 1, 1)
	return runs[0].Versions[0]
}

// What is to spare when the host has stopped is what it could have gone on for: the
// same host, told that much later and a little more, is cut.
func TestMarginIsWhatThereWas(t *testing.T) {
	const policy = "[policy]\non_battery_for = \"%ds\"\npoll_every = \"1s\"\noff_delay = \"24h\"\n"
	early := one(t, fmt.Sprintf(policy, 120))
	if !early.Met() || early.Margin == nil || early.Hosts != "a" {
		t.Fatalf("%+v", early)
	}
	spare := int(early.Margin.Seconds)
	last := one(t, fmt.Sprintf(policy, 120+spare-2))
	if !last.Met() || last.Margin.Seconds > 4 || last.Margin.Seconds < 0 {
		t.Errorf("%d s later: %+v %+v", spare-2, last, last.Margin)
	}
	late := one(t, fmt.Sprintf(policy, 120+spare+3))
	if late.Met() || late.Margin.Seconds >= 0 || late.Margin.Seconds < -5 || late.Margin.ChargePct != 0 || late.Hosts != "c" {
		t.Errorf("%d s later: %+v %+v", spare+3, late, late.Margin)
	}
	if want := []Reason{{Host: 1, Text: "stopping: the output went off: the battery is exhausted"}, {Claim: 1, Text: "it did not hold at #: hosts_cut = #"}}; !cmp.Equal(want, late.Why) {
		t.Error(cmp.Diff(want, late.Why))
	}
}

func TestMarginOfOthers(t *testing.T) {
	if o := one(t, ""); o.Margin.Seconds != -120 || o.Why[0].Text != "running, not told to stop: the output went off: the battery is exhausted" {
		t.Errorf("nobody acts: %+v %+v", o, o.Margin)
	}
	calm := strings.Replace(bare, `source = { volts = 0, lasts = "30m" }`, `note = "nothing"`, 1)
	if o := played(t, &Source{Name: "x", Text: []byte(calm), Variants: []string{""}}, 1, 1, 1)[0].Versions[0]; o.Margin != nil || !o.Met() {
		t.Errorf("no outage: %+v", o)
	}
	short := strings.Replace(bare, `lasts = "30m"`, `lasts = "1m"`, 1)
	if o := played(t, &Source{Name: "x", Text: []byte(short), Variants: []string{""}}, 1, 1, 1)[0].Versions[0]; o.Margin == nil || o.Margin.Seconds < 120 || o.Margin.ChargePct < 80 {
		t.Errorf("a short outage: %+v", o.Margin)
	}
	gap := strings.Replace(bare, `draw_w = 700`, "draw_w = 700\nhold_up = \"1ms\"", 1)
	if o := played(t, &Source{Name: "x", Text: []byte(gap), Variants: []string{""}}, 1, 1, 1)[0].Versions[0]; o.Hosts != "c" || o.Why[0].Text != "running, not told to stop: a gap of its supply was more than it holds up" {
		t.Errorf("a gap: %+v", o)
	}
}

func TestPlainReasons(t *testing.T) {
	for in, want := range map[string]string{
		"it held at 0:27:55.797: hosts_cut = 7":  "it held at #: hosts_cut = #",
		"hosts.guests_2.stops = 0, x = -1.5e3 %": "hosts.guests_2.stops = #, x = -#e3 %",
		"a gap of 6 ms.":                         "a gap of # ms.",
		"":                                       "",
	} {
		if got := plain(in); got != want {
			t.Errorf("plain(%q) = %q, want %q", in, got, want)
		}
	}
}

// shards plays a study in parts and gives them as files.
func shards(t testing.TB, s *Source, runs, of int) []Named {
	t.Helper()
	var files []Named
	for part := 1; part <= of; part++ {
		h := header(t, s, runs, Shard{part, of})
		f, err := ReadFile(file(t, h, played(t, s, h.First(), h.Last(), 2)))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, Named{fmt.Sprintf("part-%d", part), f})
	}
	return files
}

func file(t testing.TB, h *Header, runs []Run) []byte {
	t.Helper()
	head, err := Line(h)
	if err != nil {
		t.Fatal(err)
	}
	return append(head, text(t, runs)...)
}

func told(t testing.TB, h *Header, runs []Run) string {
	t.Helper()
	var b bytes.Buffer
	r := Sum(h, runs)
	ask := Asked{Share: 0.99, Replay: func(v string, run int) string { return fmt.Sprint(v, run) }}
	for _, err := range []error{r.JSON(&b, ask), r.Text(&b, ask, false), CSV(&b, h, runs)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range r.Charts() {
		if err := c.Chart.Write(&b, "svg"); err != nil {
			t.Fatal(err)
		}
	}
	return b.String()
}

// Shards come to the same bytes as the whole, in any order, also when there are more
// of them than runs.
func TestMergeIsTheWhole(t *testing.T) {
	s := office(t)
	for _, c := range []struct{ runs, of int }{{50, 3}, {3, 7}, {20, 1}} {
		h := header(t, s, c.runs, Shard{1, 1})
		want := told(t, h, played(t, s, 1, c.runs, 2))
		files := shards(t, s, c.runs, c.of)
		files[0], files[len(files)-1] = files[len(files)-1], files[0]
		merged, runs, err := Merge(files)
		if err != nil {
			t.Fatal(err)
		}
		if got := told(t, merged, runs); got != want {
			t.Errorf("%d runs in %d shards: -whole +merged\n%s", c.runs, c.of, cmp.Diff(want, got))
		}
	}
}

func TestMergeRefuses(t *testing.T) {
	s := office(t)
	good := func() []Named { return shards(t, s, 9, 3) }
	for want, spoil := range map[string]func([]Named) []Named{
		"no shards":                                             func([]Named) []Named { return nil },
		"of 3 shards these are missing: 2":                      func(f []Named) []Named { return []Named{f[0], f[2]} },
		"part-2 and part-2 are both shard 2/3":                  func(f []Named) []Named { return append(f, f[1]) },
		"part-3 has 2 of its 3 runs":                            func(f []Named) []Named { f[2].Runs = f[2].Runs[:2]; return f },
		"part-2 is of another study than part-1: seed 8, not 7": func(f []Named) []Named { f[1].Header.Seed = 8; return f },
		"another study than part-1: 10 runs, not 9":             func(f []Named) []Named { f[1].Header.Runs = 10; return f },
		"version v2 of the program, not v1":                     func(f []Named) []Named { f[1].Header.Program = "v2"; return f },
		"another content of study-aged-branch.toml (SHA-256 ":   func(f []Named) []Named { f[1].Header.Digest = "00"; return f },
		"other variants":                                        func(f []Named) []Named { f[1].Header.Versions = f[1].Header.Versions[:1]; return f },
		"part-2 is shard 2/4, but part-1 is shard 1/3":          func(f []Named) []Named { f[1].Header.Shard.Of = 4; return f },
	} {
		if _, _, err := Merge(spoil(good())); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

func TestReadFileRefuses(t *testing.T) {
	s := office(t)
	h := header(t, s, 9, Shard{2, 3})
	whole := string(file(t, h, played(t, s, 4, 6, 1)))
	lines := strings.SplitAfter(whole, "\n")
	for name, c := range map[string]struct {
		text string
		line int
		want string
	}{
		"nothing":     {"", 1, "no file of runs"},
		"no header":   {lines[1], 1, "no file of runs"},
		"other":       {"title = 'x'\n", 1, "no file of runs"},
		"form":        {strings.Replace(whole, `_runs":1`, `_runs":2`, 1), 1, "its form is 2, and this program knows 1"},
		"order":       {lines[0] + lines[2], 2, "run 5 stands where run 4 belongs"},
		"twice":       {lines[0] + lines[1] + lines[1], 3, "run 4 stands where run 5 belongs"},
		"garbled":     {lines[0] + "{}\n", 2, "the line is no run of the study"},
		"more":        {whole + strings.Replace(lines[3], `"run":6`, `"run":7`, 1), 5, "run 7 stands where run 7 belongs"},
		"shard":       {strings.Replace(whole, `"part":2`, `"part":4`, 1), 1, "its header makes no sense"},
		"two values":  {lines[0] + strings.TrimSpace(lines[1]) + lines[1], 2, "the line is no run"},
		"forged line": {strings.Replace(whole, "Eight machines", `Eight\u2028machines`, 1), 1, "its header makes no sense"},
	} {
		_, err := ReadFile([]byte(c.text))
		var f *FileError
		if !errors.As(err, &f) || f.Line != c.line || !strings.Contains(f.What, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	cut, err := ReadFile([]byte(whole[:len(whole)-3]))
	if err != nil || len(cut.Runs) != 2 || int(cut.Whole) != len(lines[0]+lines[1]+lines[2]) {
		t.Errorf("cut off: %v", err)
	}
}

// The reader of files of runs meets whatever is in a file.
func FuzzReadFile(f *testing.F) {
	s := quick()
	h := header(f, s, 2, Shard{1, 1})
	f.Add(file(f, h, played(f, s, 1, 2, 1)))
	f.Add([]byte(`{"ridethrough_study_runs":1}` + "\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		got, err := ReadFile(text)
		if err != nil {
			return
		}
		if _, runs, err := Merge([]Named{{"x", got}}); err == nil {
			r, ask := Sum(&got.Header, runs), Asked{Share: 1, Replay: func(string, int) string { return "" }}
			if err := errors.Join(r.JSON(io.Discard, ask), r.Text(io.Discard, ask, false), CSV(io.Discard, &got.Header, runs)); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// A worn battery takes from the time to spare; a second later is a second less, the
// polls aside; how long a host takes to start does nothing.
func TestSensitivityOfASite(t *testing.T) {
	s := &Source{Name: "x", Seed: 3, Variants: []string{""}, Text: []byte(bare + `[policy]
on_battery_for = "2m"
[vary]
battery.age_years = { uniform = [0, 8] }
policy.on_battery_for = { uniform = ["60s", "5m"] }
host.db.boot_takes = { uniform = ["60s", "90s"] }
`)}
	effects := map[string]Effect{}
	for _, e := range Sum(header(t, s, 200, Shard{1, 1}), played(t, s, 1, 200, 2)).Versions[0].Effects {
		effects[e.Path] = e
	}
	age, wait, boot := effects["battery.age_years"], effects["policy.on_battery_for"], effects["host.db.boot_takes"]
	if age.Share < 0.5 || age.Rank > -0.7 || wait.Share < 0.1 || wait.Rank > -0.2 || math.Abs(wait.PerUnit+1) > 0.4 || boot.Share > 0.15 {
		t.Errorf("%+v", effects)
	}
	if sum := age.Share + wait.Share; sum < 0.8 || sum > 1.15 {
		t.Errorf("of an almost linear site the shares come to %.2f", sum)
	}
}

// BenchmarkStudy is a run of an outage of half an hour with eight machines, one after
// the other.
func BenchmarkStudy(b *testing.B) {
	s := office(b)
	before, after, _ := strings.Cut(string(s.Text), "at.outage.source.lasts = ")
	_, after, _ = strings.Cut(after, "\n")
	s.Text, s.Variants = []byte(before+"at.outage.source.lasts = { constant = \"30m\" }\n"+after), []string{""}
	p, err := NewPlayer(s)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	run := 0
	for b.Loop() {
		run++
		if _, err := p.Play(run); err != nil {
			b.Fatal(err)
		}
	}
}
