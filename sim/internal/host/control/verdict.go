package control

import (
	"net/http"

	"ridethrough/sim/internal/core/expect"
)

// Verdict is how the expectations stand.
type Verdict struct {
	TimeMS       int64      `json:"t_ms"`
	Final        bool       `json:"final"`
	Met          bool       `json:"met"`
	Expectations []Standing `json:"expectations"`
}

// Standing is how one of them stands.
type Standing struct {
	Name    string `json:"name"`
	Claim   string `json:"claim"`
	Verdict string `json:"verdict"`
	AtMS    *int64 `json:"at_ms,omitempty"`
	Because string `json:"because"`
}

func (s *Server) verdict(w http.ResponseWriter, _ *http.Request) {
	list, at, final, result := s.Bench.Standing()
	if refused(w, result) {
		return
	}
	v := Verdict{TimeMS: int64(at), Final: final, Met: true, Expectations: []Standing{}}
	for i := range list {
		v.Met = v.Met && list[i].State == expect.Met
		v.Expectations = append(v.Expectations, standing(&list[i]))
	}
	answer(w, http.StatusOK, v)
}

func standing(v *expect.Verdict) Standing {
	s := Standing{Name: v.Name, Claim: v.Form, Verdict: v.State.String(), Because: v.Because}
	if v.State != expect.Open {
		at := int64(v.At)
		s.AtMS = &at
	}
	return s
}

// end ends the session. The answer is its result.
func (s *Server) end(w http.ResponseWriter, r *http.Request) {
	if _, ok := bodyOf(w, r); !ok {
		return
	}
	done, ok := s.takesLong(w)
	if !ok {
		return
	}
	defer done()
	result, err := s.End(r.Context().Done())
	if err != nil {
		fail(w, http.StatusInternalServerError, err.Error())
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Write(result)
}
