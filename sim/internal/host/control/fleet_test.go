package control

import (
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
)

type fakeFleet struct {
	fakeBench
	to []int // devices that were sent something; 0: all
}

func (f *fakeFleet) Devices() int { return 3 }

func (f *fakeFleet) Find(serial string) int {
	if serial == "RT-00002" {
		return 2
	}
	return 0
}

func (f *fakeFleet) Wait(n int, done <-chan struct{}, w engine.Wait) (engine.Outcome, snap.Result) {
	f.to = append(f.to, n)
	return f.fakeBench.Wait(done, w)
}

func (f *fakeFleet) Site(n int) *snap.Site {
	if n == 3 {
		return nil
	}
	return &snap.Site{Device: snap.Device{Tick: 1000}}
}

func (f *fakeFleet) Submit(n int, c snap.Command) snap.Result {
	f.to = append(f.to, n)
	return f.fakeBench.Submit(c)
}

func (f *fakeFleet) SubmitAll(c snap.Command) snap.Result { return f.Submit(0, c) }

func (f *fakeFleet) Turn(t engine.Turn) engine.Clock {
	c, _ := f.fakeBench.Turn(t)
	return c
}

func (f *fakeFleet) Sum() FleetState {
	return FleetState{Devices: 3, OnBattery: 2, Notified: snap.Sent{}.ByName(), Acknowledged: snap.Sent{}.ByName(), GivenUp: snap.Sent{}.ByName()}
}

func TestFleet(t *testing.T) {
	f := &fakeFleet{}
	for _, c := range []struct {
		method, path string
		code         int
		says         string
	}{
		{"GET", "/v1/state", 200, `"devices":3,"on_battery":2`},
		{"GET", "/v1/state?device=2", 200, `"t_s":1,`},
		{"GET", "/v1/state?device=3", 410, "ended"},
		{"GET", "/v1/state?device=4", 400, "expected a number from 1 to 3"},
		{"GET", "/v1/state?device=1e99999999999999999999999999999999", 400, `device=\"1e999999999999999999\"`},
		{"POST", "/v1/send", 200, `"done":true`},
		{"POST", "/v1/send?device=2", 200, `"done":true`},
		{"POST", "/v1/send?device=RT-00002", 200, `"done":true`},
		{"POST", "/v1/send?device=-1", 400, "expected a number from 1 to 3, or a serial number"},
		{"GET", "/v1/state?device=RT-00002", 200, `"t_s":1,`},
		{"GET", "/v1/state?device=RT-00009", 400, "or a serial number"},
		{"POST", "/v1/wait?device=RT-00002", 200, `"held":false`},
		{"POST", "/v1/wait?device=4", 400, "expected a number from 1 to 3"},
		{"POST", "/v1/wait", 400, "expected ?device=N"},
		{"GET", "/v1/clock", 200, `"running":false`},
		{"POST", "/v1/advance", 400, "a fleet of 3 devices has no /v1/advance"},
		{"GET", "/v1/observations", 400, "a fleet of 3 devices has no /v1/observations"},
	} {
		body := "output = 'off'"
		if strings.HasPrefix(c.path, "/v1/wait") {
			body = untilBody
		}
		r := httptest.NewRequest(c.method, c.path, strings.NewReader(body))
		r.Header.Set("Authorization", "Bearer "+token)
		w := httptest.NewRecorder()
		NewFleet(f, token, []byte(record)).http.Handler.ServeHTTP(w, r)
		if w.Code != c.code || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("%s %s: %d %s", c.method, c.path, w.Code, w.Body)
		}
	}
	if !slices.Equal(f.to, []int{0, 2, 2, 2}) {
		t.Errorf("sent to %v", f.to)
	}
}

func TestOneSiteHasNoDevices(t *testing.T) {
	b := &fakeBench{}
	if code, body := ask(t, b, "POST", "/v1/send?device=1", token, "output = 'off'"); code != 400 || len(b.got) != 0 {
		t.Errorf("%d %s, %d commands", code, body, len(b.got))
	}
}
