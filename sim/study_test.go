package sim_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ridethrough/sim"
)

func aged(t *testing.T, opts ...sim.LoadOption) *sim.Scenario {
	t.Helper()
	s, err := sim.Load(filepath.Join("..", "scenarios", "study-aged-branch.toml"), opts...)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// studied is a study as JSON and CSV.
func studied(t *testing.T, s *sim.Scenario, opts sim.StudyOptions) string {
	t.Helper()
	r, err := sim.Study(s, opts)
	if err != nil {
		t.Fatal(err)
	}
	if !r.Whole() {
		t.Fatal("it is not whole")
	}
	return allOf(t, r)
}

func allOf(t *testing.T, r *sim.StudyResult) string {
	t.Helper()
	var b bytes.Buffer
	ask := sim.StudyAsk{Share: 1, Replay: func(string, int) string { return "" }}
	if err := r.JSON(&b, ask); err != nil {
		t.Fatal(err)
	}
	if err := r.CSV(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A run of the study alone is that of the study, and comes to the same bytes.
func TestStudyRunAlone(t *testing.T) {
	s := aged(t, sim.WithVariant("waits-longer"))
	r, err := sim.Study(s, sim.StudyOptions{Runs: 20, Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	var csv bytes.Buffer
	if err := r.CSV(&csv); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(csv.String(), "\n")[1:]
	failed := 0
	for run := 1; run <= 20; run++ {
		var traces [2]bytes.Buffer
		for i := range traces {
			one, err := s.StudyRun(run)
			if err != nil {
				t.Fatal(err)
			}
			result, err := sim.Run(one, sim.RunOptions{Trace: &traces[i]})
			if err != nil {
				t.Fatal(err)
			}
			if met := strings.Split(lines[run-1], ",")[3] == "true"; met != result.Met() {
				t.Errorf("run %d: met %v in the study, %v alone", run, met, result.Met())
			}
			if !result.Met() {
				failed++
			}
		}
		if !bytes.Equal(traces[0].Bytes(), traces[1].Bytes()) {
			t.Errorf("run %d: two traces", run)
		}
	}
	if failed == 0 {
		t.Error("no run failed")
	}
}

// A study that was stopped anywhere, in the middle of a line too, goes on to the same
// bytes, those of its file included.
func TestStudyGoesOnAnywhere(t *testing.T) {
	s, opts := aged(t), sim.StudyOptions{Runs: 5, Workers: 2, Compare: []string{"waits-longer"}}
	want := studied(t, s, opts)
	path := filepath.Join(t.TempDir(), "runs")
	again := func() string {
		f, err := sim.OpenStudyFile(path)
		if err != nil {
			t.Fatal(err)
		}
		kept := opts
		kept.File = f
		got := studied(t, s, kept)
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		return got
	}
	if again() != want {
		t.Error("with a file it comes to something else")
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for cut := 0; cut <= len(whole); cut += 197 {
		if err := os.WriteFile(path, whole[:cut], 0o600); err != nil {
			t.Fatal(err)
		}
		if again() != want {
			t.Errorf("cut off at %d: it comes to something else", cut)
		}
		if got, err := os.ReadFile(path); err != nil || !bytes.Equal(got, whole) {
			t.Errorf("cut off at %d: another file, %v", cut, err)
		}
	}
}

// Interrupted, it is judged by what was played.
func TestStudyInterrupted(t *testing.T) {
	done := make(chan struct{})
	opts := sim.StudyOptions{Runs: 5000, Workers: 2, Done: done}
	opts.Progress = func(played, all int) {
		if played > 0 && played < all {
			select {
			case <-done:
			default:
				close(done)
			}
		}
	}
	r, err := sim.Study(aged(t), opts)
	if err != nil {
		t.Fatal(err)
	}
	if met, of := r.Met(); r.Whole() || of < 100 || of > 1000 || met == 0 {
		t.Errorf("%d of %d, whole: %v", met, of, r.Whole())
	}
}

// Nothing is written over that is not a file of runs of the same study.
func TestStudyKeepsOffOtherFiles(t *testing.T) {
	dir := t.TempDir()
	for name, c := range map[string]struct{ text, want string }{
		"scenario": {"title = 'x'\n", "scenario:1: it is no file of runs"},
		"text":     {"no line", "text:1: it is no file of runs"},
	} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		f, err := sim.OpenStudyFile(path)
		if err != nil {
			t.Fatal(err)
		}
		_, err = sim.Study(aged(t), sim.StudyOptions{Runs: 3, File: f})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %s", err, c.want)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != c.text {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
}
