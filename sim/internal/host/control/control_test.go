package control

import (
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

type fakeBench struct {
	site   snap.Site
	got    []snap.Command
	answer snap.Result // of everything

	clock    engine.Clock
	waited   engine.Wait
	outcome  engine.Outcome
	verdicts []expect.Verdict
	over     chan struct{}
}

func (f *fakeBench) Clock() engine.Clock { return f.clock }

func (f *fakeBench) Turn(t engine.Turn) (engine.Clock, snap.Result) {
	if t.Running != nil {
		f.clock.Running = *t.Running
	}
	if t.Speed != nil {
		f.clock.Speed = *t.Speed
	}
	return f.clock, f.answer
}

func (f *fakeBench) Wait(_ <-chan struct{}, w engine.Wait) (engine.Outcome, snap.Result) {
	f.waited = w
	return f.outcome, f.answer
}

func (f *fakeBench) Standing() ([]expect.Verdict, vtime.Tick, bool, snap.Result) {
	return f.verdicts, 5000, false, f.answer
}

func (f *fakeBench) Ended() <-chan struct{} { return f.over }

func (f *fakeBench) Site() *snap.Site { return &f.site }

func (f *fakeBench) Submit(c snap.Command) snap.Result {
	f.got = append(f.got, c)
	return f.answer
}

const token, record = "right-token", `{"ready":true,"bench_token":"right-token"}` + "\n"

func ask(t *testing.T, b Bench, method, path, bearer, body string) (int, string) {
	t.Helper()
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	if bearer != "" {
		r.Header.Set("Authorization", "Bearer "+bearer)
	}
	w := httptest.NewRecorder()
	New(Config{Bench: b, Log: NewLog(), End: noResult}, token, []byte(record)).http.Handler.ServeHTTP(w, r)
	return w.Code, w.Body.String()
}

func noResult(<-chan struct{}) ([]byte, error) { return nil, errors.New("there is no result") }

func TestReadyShowsSecretsOnlyToTheTokenHolder(t *testing.T) {
	if code, body := ask(t, &fakeBench{}, "GET", "/readyz", token, ""); code != 200 || body != record {
		t.Errorf("with the token: %d %q", code, body)
	}
	for _, bearer := range []string{"", "wrong"} {
		if code, body := ask(t, &fakeBench{}, "GET", "/readyz", bearer, ""); code != 200 || body != "{\"ready\":true}\n" {
			t.Errorf("with %q: %d %q", bearer, code, body)
		}
	}
}

func TestEverythingElseNeedsTheToken(t *testing.T) {
	b := &fakeBench{}
	for _, c := range [][2]string{{"GET", "/v1/state"}, {"POST", "/v1/send"}} {
		for _, bearer := range []string{"", "wrong", "right-toke", "right-token2"} {
			if code, _ := ask(t, b, c[0], c[1], bearer, "note = 'x'"); code != http.StatusUnauthorized {
				t.Errorf("%s %s with %q: %d", c[0], c[1], bearer, code)
			}
		}
	}
	if len(b.got) != 0 {
		t.Errorf("commands came through: %v", b.got)
	}
}

func TestSend(t *testing.T) {
	for _, c := range []struct {
		answer snap.Result
		code   int
	}{
		{snap.Result{}, 200},
		{snap.Result{Status: snap.WrongValue, Reason: "no such thing"}, 400},
		{snap.Result{Status: snap.Busy, Reason: "busy"}, 503},
		{snap.Result{Status: snap.Gone, Reason: "over"}, 410},
	} {
		b := &fakeBench{answer: c.answer}
		code, body := ask(t, b, "POST", "/v1/send", token, `source = "lost"`)
		if code != c.code || !strings.Contains(body, c.answer.Reason) {
			t.Errorf("%v: %d %q, want %d", c.answer, code, body, c.code)
		}
		if len(b.got) != 1 || b.got[0].Op != snap.OpInject || b.got[0].Text != `source = "lost"` {
			t.Errorf("submitted %+v", b.got)
		}
	}
}

func TestSendIsBounded(t *testing.T) {
	b := &fakeBench{}
	if code, _ := ask(t, b, "POST", "/v1/send", token, strings.Repeat("#", maxBody+1)); code != http.StatusRequestEntityTooLarge || len(b.got) != 0 {
		t.Errorf("code %d, %d commands", code, len(b.got))
	}
}

func TestRefusesAnotherSitesPage(t *testing.T) {
	r := httptest.NewRequest("POST", "/v1/send", strings.NewReader("x"))
	r.Header.Set("Authorization", "Bearer "+token)
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	w := httptest.NewRecorder()
	New(Config{Bench: &fakeBench{}}, token, nil).http.Handler.ServeHTTP(w, r)
	if w.Code != http.StatusForbidden || !strings.HasPrefix(w.Body.String(), `{"error":"`) {
		t.Errorf("code %d, %s", w.Code, w.Body)
	}
}

// The state names what happens, and nothing that a card keeps secret.
func TestStateHasTheTruthAndNoSecret(t *testing.T) {
	b := &fakeBench{}
	b.site.Tick = 1500
	b.site.Card.Settings.ReadCommunity = snap.NewSecret("a-secret")
	b.site.Card.Accounts = []snap.Account{{User: "technician", Verifier: []byte("a-secret")}}
	b.site.Hosts = []snap.Host{{Name: "db", State: snap.HostCut, Ended: "cut", Cuts: 1}}
	b.site.Groups = []snap.Group{{Name: "racks", On: true}}
	b.site.Alarms.Count = 1
	b.site.Alarms.Rows[0].Kind = snap.AlarmOnBattery
	code, body := ask(t, b, "GET", "/v1/state", token, "")
	var st State
	if err := json.Unmarshal([]byte(body), &st); err != nil || code != 200 {
		t.Fatal(code, err)
	}
	if strings.Contains(body, "secret") || strings.Contains(body, "technician") {
		t.Errorf("the state shows secrets: %s", body)
	}
	if diff := cmp.Diff([]HostState{{Name: "db", State: "cut", Ended: "cut", Cuts: 1}}, st.Hosts); diff != "" {
		t.Errorf("hosts (-want +got):\n%s", diff)
	}
	if st.TimeS != 1.5 || !st.Groups["racks"] || len(st.Alarms) != 1 || st.Alarms[0] != "on_battery" {
		t.Errorf("state %+v", st)
	}
}

// Whatever is wrong is said in JSON, as docs/bench.md has it.
func TestEveryRefusalIsJSON(t *testing.T) {
	for _, c := range []struct {
		method, path string
		code         int
		says         string
	}{
		{"GET", "/", 404, "there is nothing"}, {"GET", "/v1/nosuch", 404, "there is nothing"}, {"POST", "/v1/send/", 404, "there is nothing"},
		{"DELETE", "/readyz", 405, "expected GET /readyz"}, {"POST", "/v1/state", 405, "expected GET /v1/state"},
		{"GET", "/v1/send", 405, "expected POST /v1/send"},
		{"GET", "/v1/observations?sinse=3", 400, "/v1/observations has no parameter \"sinse\": expected since"},
		{"GET", "/v1/state?name=a", 400, "/v1/state has no parameter \"name\": expected device"},
		{"GET", "/v1/clock?now", 400, "/v1/clock has no parameter \"now\": expected none"},
	} {
		code, body := ask(t, &fakeBench{}, c.method, c.path, token, "")
		var said map[string]string
		if err := json.Unmarshal([]byte(body), &said); err != nil || code != c.code || len(said) != 1 || !strings.HasPrefix(said["error"], c.says) {
			t.Errorf("%s %s: %d %q, %v; want %d", c.method, c.path, code, body, err, c.code)
		}
	}
}
