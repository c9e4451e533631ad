package control

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/engine"
)

// Whatever somebody sends to drive the clock is done, or refused with one line of
// JSON; and what gets through is within bounds.
func FuzzClockBodies(f *testing.F) {
	for _, body := range []string{
		`{"running":true,"speed":2}`, `{"by":"5m"}`, untilBody, `{"speed":1e999}`, `{"by":"9999999h"}`, `[]`, `null`, "{", "{}{}", `{"by":1}`, "\x00",
	} {
		f.Add(body)
	}
	f.Fuzz(func(t *testing.T, body string) {
		for _, path := range []string{"/v1/clock", "/v1/advance", "/v1/wait"} {
			b := &fakeBench{clock: engine.Clock{Speed: 1}}
			r := httptest.NewRequest("POST", path, strings.NewReader(body))
			r.Header.Set("Authorization", "Bearer "+token)
			w := httptest.NewRecorder()
			New(Config{Bench: b, Log: NewLog()}, token, nil).http.Handler.ServeHTTP(w, r)
			var said struct{ Error string }
			err := json.Unmarshal(w.Body.Bytes(), &said)
			refused := w.Code == http.StatusBadRequest && said.Error != "" || w.Code == http.StatusRequestEntityTooLarge
			switch {
			case err != nil || w.Code != http.StatusOK && !refused:
				t.Errorf("%s: %d %s", path, w.Code, w.Body)
			case w.Code == http.StatusOK && path == "/v1/clock" && !(b.clock.Speed >= 0.1 && b.clock.Speed <= 3600):
				t.Errorf("%s: speed %g", path, b.clock.Speed)
			case w.Code == http.StatusOK && path != "/v1/clock" && (b.waited.For <= 0 || b.waited.For > engine.MaxEnd):
				t.Errorf("%s: %+v", path, b.waited)
			}
		}
	})
}
