package control

import (
	"fmt"
	"net/http"
	"strconv"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
)

// Fleet is what the door of many devices leads to. Devices are counted from 1.
type Fleet interface {
	Devices() int
	Site(n int) *snap.Site // nil when the simulation has ended
	Submit(n int, c snap.Command) snap.Result
	SubmitAll(c snap.Command) snap.Result
	Sum() FleetState
	Clock() engine.Clock
	Turn(engine.Turn) engine.Clock
	Find(serial string) int // 0: there is none
	Wait(n int, done <-chan struct{}, w engine.Wait) (engine.Outcome, snap.Result)
}

// FleetState is how many devices are how.
type FleetState struct {
	TimeS        float64        `json:"t_s"`
	Devices      int            `json:"devices"`
	OnBattery    int            `json:"on_battery"`
	LowBattery   int            `json:"low_battery"`
	NoOutput     int            `json:"no_output"`
	HostsCut     int            `json:"hosts_cut"`
	Notified     map[string]int `json:"notified"`
	Acknowledged map[string]int `json:"acknowledged"`
	GivenUp      map[string]int `json:"given_up"`
}

// NewFleet is [New] for a fleet: the query device names the device that is meant, by its
// number or serial number; without it the state is the sum of all, and what is sent goes to all.
func NewFleet(fleet Fleet, token string, ready []byte) *Server {
	return newServer(&Server{token: token, fleet: fleet}, ready)
}

func (s *Server) fleetState(w http.ResponseWriter, r *http.Request) {
	n, ok := s.device(w, r)
	switch {
	case !ok:
	case n == 0:
		answer(w, http.StatusOK, s.fleet.Sum())
	default:
		if site := s.fleet.Site(n); site != nil {
			answer(w, http.StatusOK, StateOf(site))
			return
		}
		fail(w, http.StatusGone, "the simulation has ended")
	}
}

func (s *Server) fleetSend(w http.ResponseWriter, r *http.Request, c snap.Command) {
	n, ok := s.device(w, r)
	switch {
	case !ok:
	case n == 0:
		told(w, s.fleet.SubmitAll(c))
	default:
		told(w, s.fleet.Submit(n, c))
	}
}

// oneSite refuses what a fleet does not have.
func (s *Server) oneSite(h http.HandlerFunc) http.HandlerFunc {
	if s.fleet == nil {
		return h
	}
	return func(w http.ResponseWriter, r *http.Request) {
		fail(w, http.StatusBadRequest, fmt.Sprintf("a fleet of %d devices has no %s, one site has: expected readyz, state, send, clock or wait", s.fleet.Devices(), r.URL.Path))
	}
}

// noDevice refuses a device where there is one site.
func (s *Server) noDevice(w http.ResponseWriter, r *http.Request) bool {
	if s.fleet != nil || !r.URL.Query().Has("device") {
		return true
	}
	fail(w, http.StatusBadRequest, "this is one site and not a fleet: expected no device")
	return false
}

// waitFor waits for the site, or for one device of a fleet. It is ok unless the request was
// answered.
func (s *Server) waitFor(w http.ResponseWriter, r *http.Request, wait engine.Wait) (o engine.Outcome, ok bool) {
	if s.fleet == nil {
		o, result := s.Bench.Wait(r.Context().Done(), wait)
		return o, !refused(w, result)
	}
	n, ok := s.device(w, r)
	switch {
	case !ok:
		return o, false
	case n == 0:
		fail(w, http.StatusBadRequest, "a condition is one device's: expected ?device=N, which is --device N of wait")
		return o, false
	}
	o, result := s.fleet.Wait(n, r.Context().Done(), wait)
	return o, !refused(w, result)
}

// device is the number of the device that the request names, 0 if it names none.
func (s *Server) device(w http.ResponseWriter, r *http.Request) (n int, ok bool) {
	text := r.URL.Query().Get("device")
	if text == "" {
		return 0, true
	}
	if n, err := strconv.Atoi(text); err == nil && n >= 1 && n <= s.fleet.Devices() {
		return n, true
	}
	if n = s.fleet.Find(text); n > 0 {
		return n, true
	}
	fail(w, http.StatusBadRequest, fmt.Sprintf("device=%.20q: expected a number from 1 to %d, or a serial number of the ready record", text, s.fleet.Devices()))
	return 0, false
}
