package control

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/core/snap"
)

// MaxKept is how many observations are kept for who comes later or is slow.
const MaxKept = 10_000

// most is how many are written to a stream at once.
const most = 256

// Observation is one thing that happened, with the state of the unit after the
// instant in which it did.
type Observation struct {
	ID        uint64  `json:"id"`
	AtMS      int64   `json:"at_ms"`
	Subject   string  `json:"subject"`
	Text      string  `json:"text"`
	FedBy     string  `json:"fed_by"`
	ChargePct float64 `json:"charge_pct"`
}

// Observations is a list of them.
type Observations struct {
	Observations []Observation `json:"observations"`
	Last         uint64        `json:"last"`
	Lost         uint64        `json:"lost"`
}

// Log keeps the latest observations. It is safe for concurrent use.
type Log struct {
	mu   sync.Mutex
	kept []Observation // a ring once it is full
	last uint64        // number of the latest; the first has 1
	more chan struct{} // closed when there is more
}

// NewLog is an empty log.
func NewLog() *Log { return &Log{more: make(chan struct{})} }

// Add takes the events of one instant and the site after them. It keeps neither.
func (l *Log) Add(events []site.Event, s *snap.Site) {
	if len(events) == 0 {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, e := range events {
		l.last++
		o := Observation{
			ID: l.last, AtMS: int64(e.Tick), Subject: e.Subject, Text: e.Text,
			FedBy: s.Of(e.What.Unit).UPS.Source.String(), ChargePct: math.Round(s.Of(e.What.Unit).ChargePct*100) / 100,
		}
		if len(l.kept) < MaxKept {
			l.kept = append(l.kept, o)
		} else {
			l.kept[(l.last-1)%MaxKept] = o
		}
	}
	close(l.more)
	l.more = make(chan struct{})
}

// After is up to n observations after the one with that number, how many of them
// are not kept any more, and a channel that is closed when there are more.
func (l *Log) After(id uint64, n int) (list Observations, more <-chan struct{}) {
	l.mu.Lock()
	defer l.mu.Unlock()
	id = min(id, l.last)
	list.Observations = []Observation{}
	if oldest := l.last - uint64(len(l.kept)); id < oldest {
		list.Lost, id = oldest-id, oldest
	}
	for ; id < l.last && len(list.Observations) < n; id++ {
		list.Observations = append(list.Observations, l.kept[id%MaxKept])
	}
	list.Last = id
	return list, l.more
}

func (s *Server) observations(w http.ResponseWriter, r *http.Request) {
	since, ok := sinceOf(w, r)
	if !ok {
		return
	}
	if !strings.Contains(r.Header.Get("Accept"), "text/event-stream") {
		list, _ := s.Log.After(since, MaxKept)
		answer(w, http.StatusOK, list)
		return
	}
	done, ok := s.takesLong(w)
	if !ok {
		return
	}
	defer done()
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	st := stream{w: w, c: http.NewResponseController(w), log: s.Log}
	st.run(r.Context().Done(), s.Bench.Ended(), since)
}

// sinceOf is the number of the last observation that the client has.
func sinceOf(w http.ResponseWriter, r *http.Request) (uint64, bool) {
	text := r.URL.Query().Get("since")
	if last := r.Header.Get("Last-Event-ID"); last != "" {
		text = last // of a stream that goes on
	}
	if text == "" {
		return 0, true
	}
	since, err := strconv.ParseUint(text, 10, 63)
	if err != nil {
		fail(w, http.StatusBadRequest, fmt.Sprintf("since %.20q: expected the number of an observation", text))
	}
	return since, err == nil
}

// stream is one client that listens.
type stream struct {
	w   http.ResponseWriter
	c   *http.ResponseController
	log *Log
}

// idle is how often a stream without news is tried, to see that somebody listens.
const idle = 15 * time.Second

// run writes what there is and what comes, until the client or the session ends.
func (s *stream) run(gone, ended <-chan struct{}, since uint64) {
	alive := time.NewTicker(idle)
	defer alive.Stop()
	over := false
	if !s.write([]byte(": observations\n\n")) {
		return
	}
	for {
		list, more := s.log.After(since, most)
		if list.Lost > 0 || len(list.Observations) > 0 {
			if since = list.Last; !s.write(eventsOf(list)) {
				return
			}
			continue
		}
		if over {
			s.write([]byte("event: end\ndata: {}\n\n"))
			return
		}
		select {
		case <-more:
		case <-ended:
			over = true // once more, for what came last
		case <-gone:
			return
		case <-alive.C:
			if !s.write([]byte(":\n\n")) {
				return
			}
		}
	}
}

// write gives the client some time to take text.
func (s *stream) write(text []byte) bool {
	s.c.SetWriteDeadline(time.Now().Add(patience))
	if _, err := s.w.Write(text); err != nil {
		return false
	}
	return s.c.Flush() == nil
}

// eventsOf is the list as a stream has it.
func eventsOf(list Observations) []byte {
	var b bytes.Buffer
	if list.Lost > 0 {
		fmt.Fprintf(&b, "event: lost\ndata: {\"lost\":%d}\n\n", list.Lost)
	}
	for i := range list.Observations {
		text, _ := json.Marshal(&list.Observations[i]) // texts and numbers: cannot fail
		fmt.Fprintf(&b, "id: %d\ndata: %s\n\n", list.Observations[i].ID, text)
	}
	return b.Bytes()
}
