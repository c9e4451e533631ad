package main

import (
	"bufio"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestKilledLeavesNoHalfFile: what is killed leaves no trace, no report and nothing
// beside them; what was there from before stays as it was.
func TestKilledLeavesNoHalfFile(t *testing.T) {
	dir := t.TempDir()
	path := func(name string) string { return filepath.Join(dir, name) }
	if err := os.WriteFile(path("trace"), []byte("from before"), 0o600); err != nil {
		t.Fatal(err)
	}
	files := []string{"--trace", path("trace"), "--junit", path("junit"), "--report", path("report.html")}
	cmd := exec.Command("ridethrough", append([]string{"serve", "--speed", "60"}, files...)...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	if line, err := bufio.NewReader(out).ReadString('\n'); err != nil || !strings.Contains(line, `"ready":true`) {
		t.Fatalf("%q, %v", line, err)
	}
	cmd.Process.Kill()
	cmd.Wait()
	if list, _ := os.ReadDir(dir); len(list) != 1 || read(t, path("trace")) != "from before" {
		t.Errorf("it leaves %v", list)
	}
}

// TestKilledAtAnyInstantOfARun kills runs at random instants, also while they write: of
// each file there is the whole, or nothing.
func TestKilledAtAnyInstantOfARun(t *testing.T) {
	dir, dice := t.TempDir(), rand.New(rand.NewPCG(11, 0))
	path := func(name string) string { return filepath.Join(dir, name) }
	args := []string{"run", "--quiet", "--trace", path("trace"), "--junit", path("junit"), "--report", path("report.html")}
	wanted, killed, whole, began := map[string]string{}, 0, 0, time.Now()
	if out, err := exec.Command("ridethrough", args...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for _, name := range []string{"trace", "junit", "report.html"} {
		wanted[name] = read(t, path(name))
		os.Remove(path(name))
	}
	for longest, runs := time.Since(began), 0; killed < 8 || whole == 0; runs++ {
		if runs == 300 {
			t.Fatalf("of %d runs %d were killed, and %d files were whole: too little to prove anything", runs, killed, whole)
		}
		cmd := exec.Command("ridethrough", args...)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		done := make(chan struct{})
		go func() { cmd.Wait(); close(done) }()
		select {
		case <-time.After(time.Duration(dice.Int64N(int64(longest)))):
			cmd.Process.Kill()
			<-done
			killed++
			longest = longest * 21 / 20
		case <-done:
			longest = longest * 9 / 10
		}
		list, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range list {
			if want, ours := wanted[e.Name()]; !ours || read(t, path(e.Name())) != want {
				t.Fatalf("it leaves half of %s, or something else", e.Name())
			}
			whole++
			os.Remove(path(e.Name()))
		}
	}
	t.Logf("%d runs killed, %d whole files", killed, whole)
}
