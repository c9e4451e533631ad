package sim_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"ridethrough/sim"
	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/host/control/apitest"
)

// asker asks a real bench, and holds what it answers against docs/openapi.json.
type asker struct {
	t         *testing.T
	doc       *apitest.Document
	at, token string
}

func newAsker(t *testing.T, at, token string) *asker {
	t.Helper()
	doc, err := apitest.Read("../docs/openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	return &asker{t, doc, at, token}
}

func (a *asker) ask(method, path, body string, want int) string {
	a.t.Helper()
	r, err := http.NewRequestWithContext(a.t.Context(), method, "http://"+a.at+path, strings.NewReader(body))
	if err != nil {
		a.t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+a.token)
	if body != "" {
		r.Header.Set("Content-Type", map[bool]string{true: "application/toml", false: "application/json"}[path == "/v1/send"])
	}
	client := http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	answer, err := client.Do(r)
	if err != nil {
		a.t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != want {
		a.t.Fatalf("%s %s: %d %s, %v; want %d", method, path, answer.StatusCode, text, err, want)
	}
	if err := a.doc.Answer(r, answer.StatusCode, answer.Header, text); err != nil {
		a.t.Errorf("%s %s: %s: %v", method, path, text, err)
	}
	return string(text)
}

const driven = `
title = "driven"
seed = 21
run_for = "30m"
[card]
write_community = "touch"
[[card.snmp_user]]
name = "watch"
auth = "sha-256"
auth_password = "first passphrase"
[[group]]
name = "racks"
[[host]]
name = "db"
draw_w = 900
stop_takes = "60s"
boot_takes = "20s"
groups = ["racks"]
[[expect]]
name = "never cut"
that = "hosts_cut > 0"
never = true
[[expect]]
name = "on battery in time"
that = "ups.on_battery"
by = "10m"
`

// A session over HTTP that is paused, stepped, run at speeds and ended: every answer
// is as the document says, and the journal comes to the same trace.
func TestDrivenOverHTTP(t *testing.T) {
	checks.EndsWithin(t, longest)
	defer checks.NoLeaks(t)
	scenario, err := sim.Parse(filepath.Join(t.TempDir(), "driven.toml"), []byte(driven))
	if err != nil {
		t.Fatal(err)
	}
	var journal, trace bytes.Buffer
	s, err := sim.Start(t.Context(), scenario, sim.ServeOptions{Paused: true, Journal: &journal, Trace: &trace})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	a := newAsker(t, s.Bench, s.Token)
	a.ask("GET", "/readyz", "", 200)
	a.ask("GET", "/v1/clock", "", 200)
	a.ask("POST", "/v1/advance", `{"by":"61.5s"}`, 200)
	a.ask("POST", "/v1/send", `source = "lost"`, 200)
	a.ask("POST", "/v1/clock", `{"running":true,"speed":300}`, 200)
	a.ask("POST", "/v1/wait", `{"until":"battery.charge_pct < 99.5","within":"20m"}`, 200)
	a.ask("POST", "/v1/clock", `{"speed":30}`, 200)
	a.ask("POST", "/v1/wait", `{"until":"hosts_cut > 0","within":"777ms"}`, 200)
	a.ask("POST", "/v1/advance", `{"until":"battery.charge_pct < 98.7","within":"20m"}`, 200)
	a.ask("POST", "/v1/send", "[source]\nsag_pct = 55\nlasts = \"400ms\"", 200)
	state := a.ask("GET", "/v1/state", "", 200)
	a.ask("GET", "/v1/observations?since=2", "", 200)
	if verdict := a.ask("GET", "/v1/verdict", "", 200); !strings.Contains(verdict, `"verdict":"open"`) || !strings.Contains(verdict, `"verdict":"met"`) {
		t.Errorf("verdict %s", verdict)
	}
	result := a.ask("POST", "/v1/end", "", 200)
	end, err := s.Close()
	if err != nil {
		t.Fatal(err)
	}
	var again bytes.Buffer
	if end.JSON(&again); again.String() != result || !end.Met() || end.Interrupted {
		t.Errorf("the bench's result\n%s\nand the session's\n%s", result, again.String())
	}
	if !strings.Contains(state, `"hosts":[{"name":"db"`) {
		t.Errorf("state %s", state)
	}
	path := filepath.Join(t.TempDir(), "session.journal")
	if err := os.WriteFile(path, journal.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	var replayed bytes.Buffer
	if _, err := sim.Replay(path, sim.ReplayOptions{Trace: &replayed}); err != nil || replayed.String() != trace.String() {
		t.Errorf("%v; replayed\n%s\nlive\n%s", err, replayed.String(), trace.String())
	}
}

// standing is the built-in scenario, served, with time standing.
func standing(t *testing.T) *sim.Session {
	t.Helper()
	scenario, err := sim.Default()
	if err != nil {
		t.Fatal(err)
	}
	s, err := sim.Start(t.Context(), scenario, sim.ServeOptions{Paused: true, Keep: true})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// A client that goes away while it advances time leaves time standing.
func TestAdvanceEndsWithItsClient(t *testing.T) {
	checks.EndsWithin(t, longest)
	defer checks.NoLeaks(t)
	s := standing(t)
	defer s.Close()
	ctx, leave := context.WithCancel(t.Context())
	r, err := http.NewRequestWithContext(ctx, "POST", "http://"+s.Bench+"/v1/advance", strings.NewReader(`{"by":"80000h"}`))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+s.Token)
	told := make(chan error)
	client := http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	go func() {
		_, err := client.Do(r)
		told <- err
	}()
	for s.Time().Now == 0 {
		runtime.Gosched() // until it is under way
	}
	leave()
	if err := <-told; !errors.Is(err, context.Canceled) {
		t.Errorf("the client was told %v", err)
	}
	for {
		_, err := s.Advance(t.Context(), time.Millisecond)
		if err == nil {
			return
		}
		if !errors.Is(err, sim.ErrAdvanced) {
			t.Fatal(err)
		}
		runtime.Gosched() // until the bench has seen that the client is gone
	}
}

// Whoever asks a session that has ended is told so.
func TestEndedSession(t *testing.T) {
	checks.EndsWithin(t, longest)
	defer checks.NoLeaks(t)
	s := standing(t)
	if r, err := s.Advance(t.Context(), 90*time.Minute); err != nil || !r.Ended {
		t.Errorf("%+v, %v", r, err)
	}
	if _, err := s.AdvanceUntil(t.Context(), "nosuch", time.Second); !errors.As(err, new(*sim.InvalidError)) {
		t.Errorf("a wrong condition: %v", err)
	}
	if err := s.Send("nosuch = 1"); !errors.As(err, new(*sim.InvalidError)) {
		t.Errorf("a wrong entry: %v", err)
	}
	if _, err := s.Close(); err != nil {
		t.Fatal(err)
	}
	_, advanced := s.Advance(t.Context(), 1)
	_, asked := s.Verdicts()
	for what, err := range map[string]error{"advance": advanced, "verdicts": asked, "send": s.Send("note = 'x'"), "pause": s.Pause(), "resume": s.Resume(2)} {
		if !errors.Is(err, sim.ErrEnded) {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// A fleet has one clock, and says clearly what it does not have.
func TestFleetOverHTTP(t *testing.T) {
	f := serveFleet(t, "port", sim.ServeOptions{Paused: true})
	a := newAsker(t, f.ready.Endpoints.Bench, f.ready.Token)
	a.ask("GET", "/readyz", "", 200)
	a.ask("GET", "/v1/state", "", 200)
	a.ask("GET", "/v1/state?device=2", "", 200)
	if clock := a.ask("GET", "/v1/clock", "", 200); !strings.Contains(clock, `"t_ms":0,"running":false`) {
		t.Errorf("at the start: %s", clock)
	}
	a.ask("POST", "/v1/advance", `{"by":"5m"}`, 400)
	a.ask("GET", "/v1/verdict", "", 400)
	a.ask("POST", "/v1/clock", `{"running":true,"speed":3600}`, 200)
	f.untilSum("time runs", func(s sum) bool { return s.T > 60 })
	a.ask("POST", "/v1/clock", `{"running":false}`, 200)
	at := a.ask("GET", "/v1/clock", "", 200)
	if again := a.ask("GET", "/v1/clock", "", 200); again != at {
		t.Errorf("time stands at %s, and then at %s", at, again)
	}
	f.end()
}
