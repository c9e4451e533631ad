package cli

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// sink takes entries like a bench and keeps the last.
func sink(t *testing.T, status int, says string) (hostPort string, got *string) {
	t.Helper()
	got = new(string)
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		*got = fmt.Sprintf("%s %s %s %s", r.Method, r.URL.Path, r.Header.Get("Authorization"), body)
		w.WriteHeader(status)
		io.WriteString(w, says)
	}))
	t.Cleanup(server.Close)
	return strings.TrimPrefix(server.URL, "http://"), got
}

func TestSendFindsItsBench(t *testing.T) {
	const entry = `source = "lost"`
	at, got := sink(t, http.StatusOK, `{"done":true}`)
	env := map[string]string{}
	for name, args := range map[string][]string{
		"flags":       {"--bench", at, "--token", "right"},
		"ready file":  {"--ready-file", write(t, recordOf(at, "right"))},
		"environment": nil,
	} {
		if args == nil {
			env = map[string]string{"RIDETHROUGH_BENCH": at, "RIDETHROUGH_TOKEN": "right"}
		}
		var out, stderr bytes.Buffer
		*got = ""
		code := Main(t.Context(), World{
			Args: append([]string{"send", entry}, args...), Stdout: &out, Stderr: &stderr,
			Getenv: func(name string) string { return env[name] },
		})
		if code != exitMet || out.Len()+stderr.Len() > 0 || *got != "POST /v1/send Bearer right "+entry {
			t.Errorf("%s: code %d, %q, %s; sent %q", name, code, out.String(), stderr.String(), *got)
		}
	}
}

func TestSendTellsWhatWentWrong(t *testing.T) {
	for _, c := range []struct {
		status, code int
		says, want   string
	}{
		{http.StatusBadRequest, exitUsage, `{"error":"entry:1:1: no"}`, "ridethrough: entry:1:1: no\n"},
		{http.StatusUnauthorized, exitIO, `{"error":"the bench token is needed"}`, ": the bench token is needed\n"},
		{http.StatusServiceUnavailable, exitIO, `{"error":"busy"}`, ": busy\n"},
		{http.StatusGone, exitIO, `{"error":"over"}`, ": over\n"},
		{http.StatusTeapot, exitIO, "short and stout", ": the bench answers 418 I'm a teapot\n"},
	} {
		at, _ := sink(t, c.status, c.says)
		code, out, stderr := command(t.Context(), "send", "--bench", at, "--token", "right", "x")
		if code != c.code || out != "" || !strings.Contains(stderr, c.want) {
			t.Errorf("%d: code %d, %q, %s", c.status, code, out, stderr)
		}
	}
}

func TestSendUsage(t *testing.T) {
	for _, args := range [][]string{
		{}, {"x"}, {"--bench", "127.0.0.1:1", "x"}, {"--token", "t", "x"}, {"--bench", "here", "--token", "t", "x"},
		{"--bench", "127.0.0.1:0", "--token", "t", "x"}, {"--ready-file", "r", "--bench", "127.0.0.1:1", "x"},
		{"--ready-file", write(t, "{"), "x"},
	} {
		if code, _, stderr := command(t.Context(), append([]string{"send"}, args...)...); code != exitUsage {
			t.Errorf("%q: code %d, %s", args, code, stderr)
		}
	}
	if code, _, stderr := command(t.Context(), "send", "--ready-file", "nosuch", "x"); code != exitIO {
		t.Errorf("no file: code %d, %s", code, stderr)
	}
}
