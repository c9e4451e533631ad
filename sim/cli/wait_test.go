package cli

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// benchServer answers like a bench that becomes ready at the third look, and then
// shows its record to who has the token.
func benchServer(t *testing.T, record *string) (hostPort string) {
	t.Helper()
	return readyAfter(t, 2, record)
}

// readyAfter becomes ready after so many looks.
func readyAfter(t *testing.T, after int, record *string) (hostPort string) {
	t.Helper()
	looks := 0
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch looks++; {
		case r.URL.Path != "/readyz" || looks <= after:
			http.Error(w, "not yet", http.StatusServiceUnavailable)
		case record != nil && r.Header.Get("Authorization") == "Bearer right":
			fmt.Fprint(w, *record)
		default:
			fmt.Fprintln(w, `{"ready":true}`)
		}
	}))
	t.Cleanup(server.Close)
	return strings.TrimPrefix(server.URL, "http://")
}

// write writes a file of its own folder.
func write(t *testing.T, text string) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "ready")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func recordOf(bench, token string) string {
	return fmt.Sprintf(`{"ready":true,"endpoints":{"bench":%q},"bench_token":%q}`+"\n", bench, token)
}

func TestWaitForBench(t *testing.T) {
	code, out, stderr := command(t.Context(), "wait", "--bench", benchServer(t, nil))
	if code != exitMet || out != "{\"ready\":true}\n" {
		t.Errorf("code %d, %q, %s", code, out, stderr)
	}
}

func TestWaitForReadyFile(t *testing.T) {
	var record string
	record = recordOf(benchServer(t, &record), "right")
	if code, out, stderr := command(t.Context(), "wait", "--ready-file", write(t, record)); code != exitMet || out != record {
		t.Errorf("code %d, %q, %s", code, out, stderr)
	}
}

// A new simulator on the old one's port does not make the old one's record good,
// whether or not they have the same token.
func TestWaitIsNotTakenInByAnotherSimulator(t *testing.T) {
	for _, token := range []string{"old", "right"} {
		other := "another record\n"
		path := write(t, recordOf(readyAfter(t, 0, &other), token))
		code, out, stderr := command(t.Context(), "wait", "--ready-file", path, "--timeout", "1s")
		if code != exitIO || out != "" || !strings.Contains(stderr, "another simulator answers there") {
			t.Errorf("token %s: code %d, %q, %s", token, code, out, stderr)
		}
	}
}

// Neither a file that is left over nor half of one counts.
func TestWaitGivesUp(t *testing.T) {
	gone := httptest.NewServer(http.NotFoundHandler())
	address := strings.TrimPrefix(gone.URL, "http://")
	gone.Close()
	for record, want := range map[string]string{
		recordOf(address, "right"):       "connection refused",
		`{"ready":false}`:                "the record does not say ready",
		`{"ready":tr`:                    "not a ready record: ",
		strings.Repeat(" ", maxRecord+1): "not a ready record: more than 33554432 bytes",
	} {
		code, out, stderr := command(t.Context(), "wait", "--ready-file", write(t, record), "--timeout", "1s")
		if code != exitIO || out != "" || !strings.Contains(stderr, "not within 1s: ") || !strings.Contains(stderr, want) {
			t.Errorf("%.40s: code %d, %q, %s", record, code, out, stderr)
		}
	}
	if code, _, stderr := command(t.Context(), "wait", "--ready-file", filepath.Join(t.TempDir(), "none"), "--timeout", "50ms"); code != exitIO || !strings.Contains(stderr, "no such file") {
		t.Errorf("no file: code %d, %s", code, stderr)
	}
}

// A pipe would hold up whoever opens it: it is refused at once.
func TestWaitRefusesWhatIsNoFile(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Skip(err)
	}
	for _, path := range []string{pipe, t.TempDir()} {
		done := make(chan string, 1)
		go func() {
			code, _, stderr := command(context.Background(), "wait", "--ready-file", path)
			done <- fmt.Sprintf("%d %s", code, stderr)
		}()
		select {
		case got := <-done:
			if want := fmt.Sprintf("%d ridethrough: cannot read %s: it is not a plain file\n", exitIO, path); got != want {
				t.Errorf("%q, want %q", got, want)
			}
		case <-time.After(10 * time.Second):
			t.Fatalf("wait hangs at %s", path)
		}
	}
}

func TestWaitIsInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if code, _, stderr := command(ctx, "wait", "--ready-file", "none"); code != exitInterrupted {
		t.Errorf("code %d, %s", code, stderr)
	}
}
