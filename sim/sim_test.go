package sim_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim"
)

// outage is an invented site: two minutes, an outage in the first.
const outage = `
title = "An outage"
seed = 3
run_for = "2m"

[[host]]
name = "a"
draw_w = 100

[[at]]
time = "30s"
source = "lost"

[[expect]]
name = "it works on"
that = "hosts.a.state == 'running'"
always = true

[[expect]]
name = "no outage"
that = "ups.on_battery"
never = true

[[variant]]
name = "calm"
why = "Nothing happens."
set = { "at.1.source" = "normal" }
`

func parse(t *testing.T, text string, opts ...sim.LoadOption) *sim.Scenario {
	t.Helper()
	s, err := sim.Parse("outage.toml", []byte(text), opts...)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func run(t *testing.T, s *sim.Scenario) (*sim.Result, string) {
	t.Helper()
	var trace strings.Builder
	r, err := sim.Run(s, sim.RunOptions{Trace: &trace})
	if err != nil {
		t.Fatal(err)
	}
	return r, trace.String()
}

func TestRun(t *testing.T) {
	r, _ := run(t, parse(t, outage))
	if r.Met() || r.Interrupted || r.Ended != 2*time.Minute || r.Scenario != "outage.toml" || r.Title != "An outage" || r.Seed != 3 {
		t.Errorf("result %+v", r)
	}
	if diff := cmp.Diff([]string{"no outage"}, r.Failed()); diff != "" {
		t.Errorf("failed (-want +got):\n%s", diff)
	}
	v := r.Verdicts[1]
	if v.State != sim.Missed || v.At != 30*time.Second || v.Claim != "never ups.on_battery" || v.Because == "" {
		t.Errorf("verdict %+v", v)
	}
	if diff := cmp.Diff([]sim.Host{{Name: "a", State: "running"}}, r.Hosts); diff != "" {
		t.Errorf("hosts (-want +got):\n%s", diff)
	}
	if r.Notifications["on_battery"] == 0 || len(r.Events) == 0 {
		t.Errorf("notifications %v, %d events", r.Notifications, len(r.Events))
	}
}

// One scenario may be played any number of times, also at once.
func TestTheSameRunGivesTheSameBytes(t *testing.T) {
	s := parse(t, outage)
	want, wantTrace := run(t, s)
	for range 4 {
		t.Run("", func(t *testing.T) {
			t.Parallel()
			got, trace := run(t, s)
			if trace != wantTrace {
				t.Errorf("traces differ:\n%s", cmp.Diff(wantTrace, trace))
			}
			for name, write := range map[string]func(*sim.Result) []byte{
				"JSON":  func(r *sim.Result) []byte { return written(t, r.JSON) },
				"JUnit": func(r *sim.Result) []byte { return written(t, r.JUnit) },
				"text":  func(r *sim.Result) []byte { return written(t, r.Text) },
			} {
				if !bytes.Equal(write(want), write(got)) {
					t.Errorf("%s differs", name)
				}
			}
		})
	}
}

func TestVariantAndSeedAreApplied(t *testing.T) {
	s := parse(t, outage, sim.WithVariant("calm"), sim.WithSeed(99))
	if s.Variant() != "calm" || s.Seed() != 99 || s.RunFor() != 2*time.Minute {
		t.Errorf("variant %q, seed %d, %v", s.Variant(), s.Seed(), s.RunFor())
	}
	if r, _ := run(t, s); !r.Met() || r.Variant != "calm" || r.Seed != 99 {
		t.Errorf("met %v, variant %q, seed %d", r.Met(), r.Variant, r.Seed)
	}
	if diff := cmp.Diff([]string{"it works on", "no outage"}, s.Expectations()); diff != "" {
		t.Errorf("expectations (-want +got):\n%s", diff)
	}
}

func TestRunEndsWhenDone(t *testing.T) {
	done := make(chan struct{})
	close(done)
	r, err := sim.Run(parse(t, outage), sim.RunOptions{Done: done})
	if err != nil || !r.Interrupted || r.Ended != 0 {
		t.Errorf("result %+v, %v", r, err)
	}
}

func TestRunVariants(t *testing.T) {
	for name, c := range map[string]struct {
		text  string
		right bool
	}{
		"the base misses":    {outage, false},
		"all as they should": {strings.NewReplacer(`"lost"`, `"normal"`, `"normal"`, `"lost"`, `why =`, "misses = [\"no outage\"]\nwhy =").Replace(outage), true},
		"a variant misses":   {strings.NewReplacer(`"lost"`, `"normal"`, `"normal"`, `"lost"`).Replace(outage), false},
	} {
		t.Run(name, func(t *testing.T) {
			trials, err := sim.RunVariants(parse(t, c.text), sim.RunOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if trials.Right() != c.right {
				t.Errorf("right %v:\n%s", trials.Right(), written(t, trials.JUnit))
			}
		})
	}
}

func TestLoadTellsWhatIsWrong(t *testing.T) {
	dir := t.TempDir()
	bad := filepath.Join(dir, "bad.toml")
	if err := os.WriteFile(bad, []byte("title = 3\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	var invalid *sim.InvalidError
	if _, err := sim.Load(bad); !errors.As(err, &invalid) || invalid.Line != 1 || invalid.Column != 9 || !strings.HasPrefix(err.Error(), bad+":1:9: ") {
		t.Errorf("bad: %v, %+v", err, invalid)
	}
	var unusable *sim.IOError
	if _, err := sim.Load(filepath.Join(dir, "none.toml")); !errors.As(err, &unusable) || !errors.Is(err, fs.ErrNotExist) || unusable.Op != "read" {
		t.Errorf("none: %v", err)
	}
	if _, err := sim.Load(dir); !errors.As(err, &unusable) {
		t.Errorf("folder: %v", err)
	}
}

func TestRunRefusesRealProcesses(t *testing.T) {
	s := parse(t, strings.Replace(outage, "draw_w = 100", "draw_w = 100\nprocess = [\"true\"]", 1))
	var invalid *sim.InvalidError
	if _, err := sim.Run(s, sim.RunOptions{}); !errors.As(err, &invalid) || !strings.Contains(err.Error(), "use serve") {
		t.Errorf("error %v", err)
	}
}

type refusing struct{}

func (refusing) Write([]byte) (int, error) { return 0, fs.ErrPermission }

func TestAnUnwritableTraceIsAnError(t *testing.T) {
	var unusable *sim.IOError
	if _, err := sim.Run(parse(t, outage), sim.RunOptions{Trace: refusing{}}); !errors.As(err, &unusable) || !errors.Is(err, fs.ErrPermission) {
		t.Errorf("error %v", err)
	}
}

func TestReplayTellsWhatIsWrong(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal")
	var invalid *sim.InvalidError
	var unusable *sim.IOError
	if _, err := sim.Replay(path, sim.ReplayOptions{}); !errors.As(err, &unusable) {
		t.Errorf("none: %v", err)
	}
	for _, text := range []string{
		"",
		`{"ridethrough_journal":1,"scenario":"in.toml","source":"title = 3","seed":1}` + "\n" + `{"end":1}`,
	} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := sim.Replay(path, sim.ReplayOptions{}); !errors.As(err, &invalid) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// A journal without commands is a plain run; one changed line of it is found.
func TestReplayFindsTheFirstDifference(t *testing.T) {
	_, trace := run(t, parse(t, outage))
	path := filepath.Join(t.TempDir(), "journal")
	write := func(lines []string) {
		t.Helper()
		text := `{"ridethrough_journal":1,"scenario":"outage.toml","source":` + quote(t, outage) + `,"seed":3}` + "\n"
		for _, l := range lines[:len(lines)-1] {
			text += `{"trace":` + quote(t, strings.TrimSuffix(l, "\n")) + "}\n"
		}
		if err := os.WriteFile(path, []byte(text+`{"end":120000}`+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	lines := strings.SplitAfter(trace, "\n")
	write(lines)
	var again strings.Builder
	if r, err := sim.Replay(path, sim.ReplayOptions{Trace: &again}); err != nil || r.Ended != 2*time.Minute || again.String() != trace {
		t.Fatalf("the same: %v", err)
	}
	lines[4] = "something else\n"
	write(lines)
	var differs *sim.MismatchError
	r, err := sim.Replay(path, sim.ReplayOptions{})
	if !errors.As(err, &differs) || differs.Line != 6 || differs.Recorded != "something else" || r == nil {
		t.Errorf("changed: %v", err)
	}
}

func TestObjects(t *testing.T) {
	find := func(list []sim.Object, name string) sim.Object {
		for _, o := range list {
			if o.Name == name {
				return o
			}
		}
		t.Errorf("no %s", name)
		return sim.Object{}
	}
	if o := find(sim.Objects(), "upsOutputPercentLoad"); o.OID != "1.3.6.1.2.1.33.1.4.4.1.5" || o.Value != "" {
		t.Errorf("object %+v", o)
	}
	list, err := parse(t, outage).Objects()
	if err != nil {
		t.Fatal(err)
	}
	if o := find(list, "upsOutputPercentLoad"); o.OID != "1.3.6.1.2.1.33.1.4.4.1.5.1" || o.Value == "" {
		t.Errorf("instance %+v", o)
	}
}

func TestDefaultScenarioIsRight(t *testing.T) {
	s, err := sim.Default()
	if err != nil {
		t.Fatal(err)
	}
	trials, err := sim.RunVariants(s, sim.RunOptions{})
	if err != nil || !trials.Right() {
		t.Errorf("%v\n%s", err, written(t, trials.JUnit))
	}
}

func written(t *testing.T, write func(io.Writer) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func quote(t *testing.T, s string) string {
	t.Helper()
	b, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
