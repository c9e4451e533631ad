package control

import (
	"fmt"
	"net/http"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Sinks is what arrived at the servers that keep it.
type Sinks struct {
	Sinks []Sink `json:"sinks"`
}

// Sink is one of them.
type Sink struct {
	Name     string          `json:"name"`
	Kind     string          `json:"kind"`
	At       string          `json:"at"`
	Up       bool            `json:"up"`
	Answer   string          `json:"answer"`
	Count    int             `json:"count"`
	LastMS   *int64          `json:"last_ms,omitempty"`
	Refused  int             `json:"refused"`
	Lost     int             `json:"lost"`
	Repeats  int             `json:"repeats"`
	Messages []*snap.Arrival `json:"messages"` // the latest, oldest first
}

// sinks shows all of them, or the one that is named.
func (s *Server) sinks(w http.ResponseWriter, r *http.Request) {
	list, name := Sinks{Sinks: []Sink{}}, r.URL.Query().Get("name")
	for _, k := range s.Bench.Site().Sinks {
		if name == "" || k.Name == name {
			list.Sinks = append(list.Sinks, sinkOf(&k))
		}
	}
	if name != "" && len(list.Sinks) == 0 {
		fail(w, http.StatusBadRequest, fmt.Sprintf("name %.40q: expected the name of a server of the scenario with sink = true", name))
		return
	}
	answer(w, http.StatusOK, list)
}

func sinkOf(k *snap.Sink) Sink {
	s := Sink{
		Name: k.Name, Kind: k.Kind, At: k.At, Up: k.Up, Answer: k.Answer,
		Count: k.Count, Refused: k.Refused, Lost: k.Lost, Repeats: k.Repeats, Messages: k.Kept,
	}
	if k.Last != vtime.Never {
		at := int64(k.Last)
		s.LastMS = &at
	}
	if s.Messages == nil {
		s.Messages = []*snap.Arrival{}
	}
	return s
}
