package control

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// add has n things happen, an instant each.
func add(l *Log, n int) {
	for range n {
		l.Add([]site.Event{{Tick: vtime.Tick(l.last), Subject: "note", Text: fmt.Sprintf("number %d", l.last+1)}}, &snap.Site{})
	}
}

func TestLogKeepsTheLatest(t *testing.T) {
	l := NewLog()
	add(l, MaxKept+5)
	for _, c := range []struct {
		since             uint64
		n                 int
		first, last, lost uint64
	}{
		{0, 2, 6, 7, 5}, {5, 2, 6, 7, 0}, {6, MaxKept, 7, MaxKept + 5, 0}, {3, 1, 6, 6, 2}, {MaxKept + 4, 9, MaxKept + 5, MaxKept + 5, 0},
		{MaxKept + 5, 9, 0, MaxKept + 5, 0}, {1 << 40, 9, 0, MaxKept + 5, 0},
	} {
		list, _ := l.After(c.since, c.n)
		first := uint64(0)
		if len(list.Observations) > 0 {
			first = list.Observations[0].ID
		}
		if first != c.first || list.Last != c.last || list.Lost != c.lost {
			t.Errorf("after %d: from %d to %d, %d lost; want %+v", c.since, first, list.Last, list.Lost, c)
		}
		for i, o := range list.Observations {
			if o.ID != first+uint64(i) || o.Text != fmt.Sprintf("number %d", o.ID) {
				t.Fatalf("after %d: %+v at place %d", c.since, o, i)
			}
		}
	}
}

// listen opens a stream over a real connection.
func listen(t *testing.T, at, lastID string) (*bufio.Scanner, func()) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), "GET", at+"/v1/observations", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+token)
	r.Header.Set("Accept", "text/event-stream")
	if lastID != "" {
		r.Header.Set("Last-Event-ID", lastID)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil || answer.StatusCode != 200 || answer.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatal(answer, err)
	}
	return bufio.NewScanner(answer.Body), func() { answer.Body.Close() }
}

// next is the next event without comments: its lines.
func next(t *testing.T, in *bufio.Scanner) string {
	t.Helper()
	var lines []string
	for in.Scan() {
		switch text := in.Text(); {
		case strings.HasPrefix(text, ":"):
		case text != "":
			lines = append(lines, text)
		case len(lines) > 0:
			return strings.Join(lines, "; ")
		}
	}
	return fmt.Sprintf("%q and the end: %v", lines, in.Err())
}

// A stream has what there was, what comes, and the end; one that goes on begins
// after the last that the client has.
func TestStream(t *testing.T) {
	defer checks.NoLeaks(t)
	defer http.DefaultClient.CloseIdleConnections()
	b := &fakeBench{over: make(chan struct{})}
	log := NewLog()
	s := New(Config{Bench: b, Log: log}, token, nil)
	server := httptest.NewServer(s.http.Handler)
	defer server.Close()
	add(log, 2)
	whole, closeWhole := listen(t, server.URL, "")
	defer closeWhole()
	rest, closeRest := listen(t, server.URL, "1")
	defer closeRest()
	want := `id: %d; data: {"id":%[1]d,"at_ms":%d,"subject":"note","text":"number %[1]d","fed_by":"unknown","charge_pct":0}`
	for id := 1; id <= 3; id++ {
		if id == 3 {
			add(log, 1)
		}
		if got := next(t, whole); got != fmt.Sprintf(want, id, id-1) {
			t.Errorf("whole: %s", got)
		}
		if id > 1 {
			if got := next(t, rest); got != fmt.Sprintf(want, id, id-1) {
				t.Errorf("rest: %s", got)
			}
		}
	}
	add(log, 1)
	close(b.over)
	for _, in := range []*bufio.Scanner{whole, rest} {
		if got := next(t, in); got != fmt.Sprintf(want, 4, 3) {
			t.Errorf("before the end: %s", got)
		}
		if got := next(t, in); got != "event: end; data: {}" {
			t.Errorf("the end: %s", got)
		}
	}
}

// slow is a client that takes nothing until it is let.
type slow struct {
	header http.Header
	text   bytes.Buffer
	begun  chan struct{} // receives when something is written
	let    chan error    // what comes of it
}

func (s *slow) Header() http.Header { return s.header }
func (s *slow) WriteHeader(int)     {}
func (s *slow) Flush()              {}

func (s *slow) Write(p []byte) (int, error) {
	s.begun <- struct{}{}
	if err := <-s.let; err != nil {
		return 0, err
	}
	return s.text.Write(p)
}

// A client that is too slow is told what it lost; nobody waits for it.
func TestStreamOfASlowReader(t *testing.T) {
	log, over, done := NewLog(), make(chan struct{}), make(chan struct{})
	s := &slow{header: http.Header{}, begun: make(chan struct{}), let: make(chan error)}
	st := stream{w: s, c: http.NewResponseController(s), log: log}
	add(log, 1)
	go func() { st.run(nil, over, 0); close(done) }()
	<-s.begun
	s.let <- nil // the greeting
	<-s.begun
	add(log, MaxKept+7) // while the first is being taken
	s.let <- nil
	<-s.begun
	s.let <- nil
	<-s.begun
	s.let <- errors.New("it is gone")
	<-done
	text := s.text.String()
	if !strings.Contains(text, "id: 1\n") || !strings.Contains(text, "event: lost\ndata: {\"lost\":7}\n\nid: 9\n") || strings.Contains(text, "id: 8\n") {
		t.Errorf("%.400s", text)
	}
}

// What waits has a bound, and a place is free again when somebody leaves.
func TestLongRequestsAreBounded(t *testing.T) {
	b := &fakeBench{over: make(chan struct{})}
	s := New(Config{Bench: b, Log: NewLog()}, token, nil)
	server := httptest.NewServer(s.http.Handler)
	defer server.Close()
	var leave []func()
	for range maxLong {
		in, away := listen(t, server.URL, "")
		in.Scan()
		leave = append(leave, away)
	}
	r, _ := http.NewRequestWithContext(t.Context(), "POST", server.URL+"/v1/wait", strings.NewReader(untilBody))
	r.Header.Set("Authorization", "Bearer "+token)
	answer, err := http.DefaultClient.Do(r)
	if err != nil || answer.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("one more: %v, %v", answer, err)
	}
	answer.Body.Close()
	leave[0]()
	s.long <- struct{}{} // when the server has seen that
	<-s.long
	in, away := listen(t, server.URL, "")
	if !in.Scan() {
		t.Errorf("in its place: %v", in.Err())
	}
	for _, away := range append(leave[1:], away) {
		away()
	}
}
