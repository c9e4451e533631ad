package control

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/host/pace"
)

// Clock is how time goes.
type Clock struct {
	TimeMS  int64   `json:"t_ms"`
	Running bool    `json:"running"`
	Speed   float64 `json:"speed"`
	Moving  bool    `json:"advancing"`
	Ended   bool    `json:"ended"`
}

// Reached is where a wait ended.
type Reached struct {
	TimeMS int64  `json:"t_ms"`
	Held   *bool  `json:"held,omitempty"`
	Values string `json:"values,omitempty"`
	Ended  bool   `json:"ended"`
}

// turnBody changes how time goes.
type turnBody struct {
	Running *bool    `json:"running"`
	Speed   *float64 `json:"speed"`
}

// waitBody is what somebody waits for.
type waitBody struct {
	By     string `json:"by"`
	Until  string `json:"until"`
	Within string `json:"within"`
}

func clockOf(c engine.Clock) Clock {
	return Clock{TimeMS: int64(c.Now), Running: c.Running, Speed: c.Speed, Moving: c.Moving, Ended: c.Ended}
}

func (s *Server) clock(w http.ResponseWriter, _ *http.Request) {
	if s.fleet != nil {
		answer(w, http.StatusOK, clockOf(s.fleet.Clock()))
		return
	}
	answer(w, http.StatusOK, clockOf(s.Bench.Clock()))
}

func (s *Server) turn(w http.ResponseWriter, r *http.Request) {
	var body turnBody
	if !decode(w, r, &body) {
		return
	}
	if body.Running == nil && body.Speed == nil {
		fail(w, http.StatusBadRequest, `expected "running", "speed" or both, as in {"running":false}`)
		return
	}
	if body.Speed != nil {
		if err := pace.Check(*body.Speed); err != nil {
			fail(w, http.StatusBadRequest, err.Error())
			return
		}
	}
	turn := engine.Turn{Running: body.Running, Speed: body.Speed, By: by(r)}
	if s.fleet != nil {
		answer(w, http.StatusOK, clockOf(s.fleet.Turn(turn)))
		return
	}
	c, result := s.Bench.Turn(turn)
	if !refused(w, result) {
		answer(w, http.StatusOK, clockOf(c))
	}
}

// advance lets time pass as fast as it can.
func (s *Server) advance(w http.ResponseWriter, r *http.Request) {
	s.until(w, r, true)
}

// wait waits while time goes as it goes.
func (s *Server) wait(w http.ResponseWriter, r *http.Request) {
	s.until(w, r, false)
}

func (s *Server) until(w http.ResponseWriter, r *http.Request, advance bool) {
	var body waitBody
	if !decode(w, r, &body) {
		return
	}
	wait, err := body.wait(advance)
	if err != nil {
		fail(w, http.StatusBadRequest, err.Error())
		return
	}
	done, ok := s.takesLong(w)
	if !ok {
		return
	}
	defer done()
	wait.By = by(r)
	if o, ok := s.waitFor(w, r, wait); ok {
		answer(w, http.StatusOK, reached(wait, o))
	}
}

func reached(w engine.Wait, o engine.Outcome) Reached {
	r := Reached{TimeMS: int64(o.Now), Ended: o.Ended}
	if w.Until != "" {
		r.Held, r.Values = &o.Held, o.Values
	}
	return r
}

// wait is what the body asks for.
func (b *waitBody) wait(advance bool) (engine.Wait, error) {
	w := engine.Wait{Until: b.Until, Advance: advance}
	var err error
	switch {
	case advance && b.By != "" && b.Until == "" && b.Within == "":
		w.For, err = span("by", b.By)
	case b.By == "" && b.Until != "" && b.Within != "":
		w.For, err = span("within", b.Within)
	case advance:
		err = errors.New(`expected {"by":"5m"}, or {"until":"CONDITION","within":"10m"}`)
	default:
		err = errors.New(`expected {"until":"CONDITION","within":"10m"}`)
	}
	return w, err
}

func span(key, text string) (vtime.Tick, error) {
	d, err := time.ParseDuration(text)
	if t := vtime.FromDuration(d); err == nil && t > 0 && t <= engine.MaxEnd {
		return t, nil
	}
	return 0, fmt.Errorf("%s: %.40q: expected a duration from 1ms to %dh, such as 90s or 1h30m", key, text, engine.MaxEnd/vtime.Hour)
}

// decode reads one JSON object with known keys alone into v.
func decode(w http.ResponseWriter, r *http.Request, v any) bool {
	body, ok := bodyOf(w, r)
	if !ok {
		return false
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	err := d.Decode(v)
	if err == nil {
		if _, more := d.Token(); more != io.EOF {
			err = errors.New("something follows the object")
		}
	}
	if errors.Is(err, io.EOF) {
		err = errors.New("it is empty")
	}
	if err != nil {
		fail(w, http.StatusBadRequest, "the body is not the JSON that is expected here: "+err.Error())
	}
	return err == nil
}
