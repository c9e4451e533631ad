package control

import (
	"context"
	"errors"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/host/control/apitest"
)

// trial is one request that brings about one answer.
type trial struct {
	method, path, body string
	code               int
	wrong              bool // the document does not allow the request either

	answer  snap.Result // of the bench
	bearer  string      // "": the right token; "-": none
	foreign bool        // a page of another site asks
	full    bool        // as many as may wait already
	fleet   bool
	result  []byte // of the session; nil: there is none
	stream  bool
}

var (
	busy     = snap.Result{Status: snap.Busy, Reason: "too many commands wait"}
	over     = snap.Result{Status: snap.Gone, Reason: "the simulation has ended"}
	refusal  = snap.Result{Status: snap.WrongValue, Reason: "condition:1:1: no"}
	conflict = snap.Result{Status: snap.Inconsistent, Reason: "time is being advanced"}
	tooLong  = strings.Repeat(" ", maxBody+1)
)

const (
	untilBody = `{"until":"battery.charge_pct < 40","within":"10m"}`
	someState = `{"ridethrough_result":1,"scenario":"s.toml","title":"t","seed":1,"start":"2026-01-05T08:00:00Z","ended_ms":1,` +
		`"interrupted":false,"met":true,"expectations":[],"hosts":[],"notifications":{},"events":[]}`
)

func trials() []trial {
	all := []trial{
		{method: "GET", path: "/readyz", code: 200},
		{method: "GET", path: "/readyz", code: 200, bearer: "-"},
		{method: "GET", path: "/v1/state", code: 200},
		{method: "GET", path: "/v1/state", code: 200, fleet: true},
		{method: "GET", path: "/v1/state?device=2", code: 200, fleet: true},
		{method: "GET", path: "/v1/state?device=RT-00002", code: 200, fleet: true},
		{method: "GET", path: "/v1/state?device=9", code: 400, fleet: true},
		{method: "GET", path: "/v1/state?device=3", code: 410, fleet: true},
		{method: "POST", path: "/v1/send", body: `source = "lost"`, code: 200},
		{method: "POST", path: "/v1/send", body: "x", code: 400, answer: refusal},
		{method: "GET", path: "/v1/clock", code: 200},
		{method: "GET", path: "/v1/clock", code: 200, fleet: true},
		{method: "GET", path: "/v1/clock?device=1", code: 400, wrong: true},
		{method: "POST", path: "/v1/clock", body: `{"running":true,"speed":2.5}`, code: 200},
		{method: "POST", path: "/v1/clock", body: `{"running":false}`, code: 200, fleet: true},
		{method: "POST", path: "/v1/clock", body: `{}`, code: 400, wrong: true},
		{method: "POST", path: "/v1/clock", body: `{"speed":0}`, code: 400, wrong: true},
		{method: "POST", path: "/v1/clock", body: `{"paused":true}`, code: 400, wrong: true},
		{method: "POST", path: "/v1/clock", body: `{"running":true} x`, code: 400, wrong: true},
		{method: "POST", path: "/v1/clock", body: ``, code: 400, wrong: true},
		{method: "POST", path: "/v1/clock", body: `{"running":false}`, code: 409, answer: conflict},
		{method: "POST", path: "/v1/advance", body: `{"by":"90s"}`, code: 200},
		{method: "POST", path: "/v1/advance", body: untilBody, code: 200},
		{method: "POST", path: "/v1/advance", body: `{"by":"90s","within":"1m"}`, code: 400, wrong: true},
		{method: "POST", path: "/v1/advance", body: `{"by":"-90s"}`, code: 400},
		{method: "POST", path: "/v1/advance", body: `{"by":"100000h"}`, code: 400},
		{method: "POST", path: "/v1/advance", body: `{"by":"1us"}`, code: 400},
		{method: "POST", path: "/v1/advance", body: untilBody, code: 400, answer: refusal},
		{method: "POST", path: "/v1/advance", body: untilBody, code: 400, fleet: true},
		{method: "POST", path: "/v1/advance", body: untilBody, code: 409, answer: conflict},
		{method: "POST", path: "/v1/wait", body: untilBody, code: 200},
		{method: "POST", path: "/v1/wait?device=2", body: untilBody, code: 200, fleet: true},
		{method: "POST", path: "/v1/wait", body: untilBody, code: 400, fleet: true},
		{method: "POST", path: "/v1/wait?device=2", body: untilBody, code: 400},
		{method: "POST", path: "/v1/wait", body: `{"by":"90s"}`, code: 400, wrong: true},
		{method: "GET", path: "/v1/observations", code: 200},
		{method: "GET", path: "/v1/observations?since=1", code: 200},
		{method: "GET", path: "/v1/observations", code: 200, stream: true},
		{method: "GET", path: "/v1/observations?since=x", code: 400, wrong: true},
		{method: "GET", path: "/v1/observations", code: 503, stream: true, full: true},
		{method: "GET", path: "/v1/sinks", code: 200},
		{method: "GET", path: "/v1/sinks?name=relay", code: 200},
		{method: "GET", path: "/v1/sinks?name=other", code: 400},
		{method: "GET", path: "/v1/sinks", code: 400, fleet: true},
		{method: "GET", path: "/v1/verdict", code: 200},
		{method: "GET", path: "/v1/verdict", code: 400, fleet: true},
		{method: "POST", path: "/v1/end", code: 200, result: []byte(someState)},
		{method: "POST", path: "/v1/end", code: 400, fleet: true},
		{method: "POST", path: "/v1/end", code: 500},
		{method: "POST", path: "/v1/end", code: 503, full: true},
		{method: "POST", path: "/v1/advance", body: untilBody, code: 503, full: true},
	}
	posts := map[string]string{"/v1/send": "x", "/v1/clock": `{"running":true}`, "/v1/advance": untilBody, "/v1/wait": untilBody, "/v1/end": ""}
	for _, path := range slices.Sorted(maps.Keys(posts)) {
		body := posts[path]
		all = append(all,
			trial{method: "POST", path: path, body: body, code: 401, bearer: "-"},
			trial{method: "POST", path: path, body: body, code: 403, foreign: true},
			trial{method: "POST", path: path, body: tooLong, code: 413, wrong: path != "/v1/end"},
		)
		if path != "/v1/end" {
			all = append(all, trial{method: "POST", path: path, body: body, code: 410, answer: over}, trial{method: "POST", path: path, body: body, code: 503, answer: busy})
		}
	}
	for _, path := range []string{"/v1/state", "/v1/clock", "/v1/observations", "/v1/sinks", "/v1/verdict"} {
		all = append(all, trial{method: "GET", path: path, code: 401, bearer: "-"})
	}
	return append(all,
		trial{method: "GET", path: "/v1/verdict", code: 410, answer: over}, trial{method: "GET", path: "/v1/verdict", code: 503, answer: busy})
}

func (c *trial) bench() *fakeBench {
	b := &fakeBench{answer: c.answer, over: make(chan struct{})}
	b.clock = engine.Clock{Now: 90_000, Speed: 1, Running: true}
	b.outcome = engine.Outcome{Now: 90_000, Held: true, Values: "battery.charge_pct = 39.5"}
	b.verdicts = []expect.Verdict{
		{Name: "a", Form: "never hosts_cut > 0", Because: "it has not held since 0:00:00.000"},
		{Name: "b", Form: "by 0:01:00.000 ups.on_battery", State: expect.Met, At: 5000, Because: "it held"},
	}
	b.site.Hosts = []snap.Host{{Name: "db", State: snap.HostRunning}}
	b.site.Groups = []snap.Group{{Name: "racks", On: true}}
	b.site.Sinks = []snap.Sink{
		{Name: "relay", Kind: "mail", At: "198.51.100.25:25", Count: 1, Last: 5000, Up: true, Answer: "accept", Kept: []*snap.Arrival{{
			ID: 1, At: 5000, From: "a@site.example", To: []string{"b@site.example"}, Subject: "s", Text: "t", TLS: true, SignsIn: true, Matched: []string{"page"},
		}}},
		{Name: "watcher", Kind: "snmp", At: "198.51.100.20:162", Last: vtime.Never, Answer: "silent"},
	}
	close(b.over)
	return b
}

func (c *trial) server() *Server {
	b := c.bench()
	if c.fleet {
		return NewFleet(&fakeFleet{fakeBench: *b}, token, []byte(record))
	}
	log := NewLog()
	log.Add([]site.Event{{Tick: 5, Subject: "source", Text: "0.0 V"}, {Tick: 5, Subject: "output", Text: "battery"}}, &b.site)
	end := func(<-chan struct{}) ([]byte, error) {
		if c.result == nil {
			return nil, errors.New("the session failed")
		}
		return c.result, nil
	}
	return New(Config{Bench: b, Log: log, End: end}, token, []byte(wholeRecord))
}

const wholeRecord = `{"ridethrough_ready":1,"ready":true,"scenario":"s.toml","endpoints":{"snmp":"127.0.0.1:1","ssh":"127.0.0.1:2","bench":"127.0.0.1:3","serial":"/tmp/serial"},` +
	`"read_community":"look","write_community":"touch","snmp_users":["ops"],"label":{"serial_number":"RT0","user":"technician","password":"p"},` +
	`"accounts":[{"user":"u","role":"viewer","password":"p"}],"bench_token":"right-token"}` + "\n"

func (c *trial) request() *http.Request {
	r := httptest.NewRequestWithContext(context.Background(), c.method, "http://127.0.0.1:8080"+c.path, strings.NewReader(c.body))
	if c.bearer != "-" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	if c.foreign {
		r.Header.Set("Sec-Fetch-Site", "cross-site")
	}
	if c.stream {
		r.Header.Set("Accept", "text/event-stream")
	}
	switch {
	case c.path == "/v1/send":
		r.Header.Set("Content-Type", "application/toml")
	case c.body != "":
		r.Header.Set("Content-Type", "application/json")
	}
	return r
}

// docs/openapi.json is a valid document of OpenAPI 3.1. It has exactly the paths,
// methods and codes that the server has, and every answer is as it says.
func TestOpenAPI(t *testing.T) {
	doc, err := apitest.Read("../../../../docs/openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]map[string]bool{}
	for _, r := range new(Server).routes() {
		seen[r.method+" "+r.path] = map[string]bool{}
	}
	for _, c := range trials() {
		s, r, w := c.server(), c.request(), httptest.NewRecorder()
		for range cap(s.long) {
			if c.full {
				s.long <- struct{}{}
			}
		}
		s.http.Handler.ServeHTTP(w, r)
		name := c.method + " " + c.path + " " + c.body[:min(len(c.body), 60)]
		if w.Code != c.code {
			t.Errorf("%s: code %d, want %d: %s", name, w.Code, c.code, w.Body)
			continue
		}
		if !c.foreign && c.bearer == "" && !c.fleet { // those are refused for what the document does not speak of
			if err := doc.Request(c.request(), []byte(c.body)); (err != nil) != c.wrong {
				t.Errorf("%s: the document says of the request: %v", name, err)
			}
		}
		if err := doc.Answer(c.request(), w.Code, w.Header(), w.Body.Bytes()); err != nil {
			t.Errorf("%s: %d %s: %v", name, w.Code, w.Body, err)
		}
		path, _, _ := strings.Cut(c.path, "?")
		seen[c.method+" "+path][strconv.Itoa(c.code)] = true
	}
	got := map[string][]string{}
	for operation, codes := range seen {
		got[operation] = slices.Sorted(maps.Keys(codes))
	}
	if diff := cmp.Diff(doc.Operations(), got); diff != "" {
		t.Errorf("operations and codes (-document +server):\n%s", diff)
	}
}

// A document that says something else is found out.
func TestOpenAPIBites(t *testing.T) {
	doc, err := apitest.Read("../../../../docs/openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	r := (&trial{method: "GET", path: "/v1/clock"}).request()
	h := http.Header{"Content-Type": {"application/json"}}
	for _, body := range []string{
		`{"t_ms":1,"running":true,"speed":1,"advancing":false}`, `{"t_ms":1,"running":true,"speed":1,"advancing":false,"ended":false,"more":1}`,
		`{"t_ms":1.5,"running":true,"speed":1,"advancing":false,"ended":false}`,
	} {
		if err := doc.Answer(r, 200, h, []byte(body)); err == nil {
			t.Errorf("%s passed", body)
		}
	}
	if err := doc.Answer(r, 418, h, []byte(`{"error":"x"}`)); err == nil {
		t.Error("a code that is not in the document passed")
	}
}

// A document that is not one of OpenAPI 3.1, or has a schema that is none, is refused.
func TestOpenAPIHasToConform(t *testing.T) {
	text, err := os.ReadFile("../../../../docs/openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]string{
		{`"openapi": "3.1.0"`, `"openapi": "3.0.0"`}, {`"operationId": "turn"`, `"operation": "turn"`}, {`"in": "query"`, `"in": "body"`},
		{`"type": "boolean"`, `"type": "yes"`}, {`"minimum": 0.1`, `"minimum": "0.1"`}, {`#/components/schemas/Clock"`, `#/components/schemas/Clocks"`},
		{`#/components/responses/E401"`, `#/components/responses/E499"`}, {`"scheme": "bearer"`, `"shape": "bearer"`},
	} {
		changed := strings.Replace(string(text), c[0], c[1], 1)
		path := filepath.Join(t.TempDir(), "openapi.json")
		if err := os.WriteFile(path, []byte(changed), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := apitest.Read(path); err == nil || changed == string(text) {
			t.Errorf("%s for %s passed", c[1], c[0])
		}
	}
}
