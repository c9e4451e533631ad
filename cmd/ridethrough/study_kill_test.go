package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// TestStudyKilled kills a study again and again while it plays. It always goes on, and
// comes to the bytes of one that nobody killed, those of its file included.
func TestStudyKilled(t *testing.T) {
	scenario := filepath.Join("..", "..", "scenarios", "study-aged-branch.toml")
	dir := t.TempDir()
	study := func(file string, workers string) *exec.Cmd {
		return exec.Command("ridethrough", "study", scenario, "--runs", "2000", "--require", "0.9", "--workers", workers, "--json", "--resume", filepath.Join(dir, file))
	}
	want, err := study("whole", "2").Output()
	if err != nil {
		t.Fatal(err)
	}
	dice, kills, file := rand.New(rand.NewPCG(8, 0)), 0, ""
	for try := 0; kills < 3; try++ { // one that gets to its end too soon is begun anew
		if try == 20 {
			t.Fatalf("killed %d times in %d studies: too little to prove anything", kills, try)
		}
		file = fmt.Sprint("killed", try)
		kills = killedUntilItEnds(t, dice, filepath.Join(dir, file), func() *exec.Cmd { return study(file, "2") })
	}
	got, err := study(file, "1").Output()
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("it comes to something else: %v", err)
	}
	if a, b := contents(t, filepath.Join(dir, "whole")), contents(t, filepath.Join(dir, file)); !bytes.Equal(a, b) {
		t.Errorf("%d bytes of runs, not the %d of the whole", len(b), len(a))
	}
}

// killedUntilItEnds kills a study whenever its file has grown, and begins it again, until
// it comes to its end; it says how often.
func killedUntilItEnds(t *testing.T, dice *rand.Rand, path string, study func() *exec.Cmd) (kills int) {
	t.Helper()
	for had := int64(-1); ; {
		cmd := study()
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		ended := make(chan error, 1)
		go func() { ended <- cmd.Wait() }()
		if had = grown(t, path, had, ended); had < 0 {
			return kills
		}
		time.Sleep(time.Duration(dice.IntN(30)) * time.Millisecond) // into the next block
		_ = cmd.Process.Kill()                                      // it may have ended
		if <-ended != nil {
			kills++
		}
	}
}

// grown waits until the file is longer than it was, and gives its length; -1 once the
// study has ended by itself.
func grown(t *testing.T, path string, had int64, ended <-chan error) int64 {
	t.Helper()
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); time.Sleep(time.Millisecond) {
		select {
		case err := <-ended:
			if err != nil {
				t.Fatal(err)
			}
			return -1
		default:
		}
		if info, err := os.Stat(path); err == nil && info.Size() > had {
			return info.Size()
		}
	}
	t.Fatal("it plays nothing")
	return 0
}

func contents(t *testing.T, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return text
}
