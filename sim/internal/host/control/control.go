package control

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// maxBody bounds what a client may send in one request.
const maxBody = 64 << 10

// maxLong bounds the requests at once that are not answered soon: streams, and those
// who wait for time to pass.
const maxLong = 32

// Bench is what the door leads to; [engine.Loop] says what each is.
type Bench interface {
	Site() *snap.Site
	Submit(snap.Command) snap.Result
	Clock() engine.Clock
	Turn(engine.Turn) (engine.Clock, snap.Result)
	Wait(done <-chan struct{}, w engine.Wait) (engine.Outcome, snap.Result)
	Standing() (verdicts []expect.Verdict, at vtime.Tick, final bool, refused snap.Result)
	Ended() <-chan struct{}
}

// Config is a bench and what belongs to it.
type Config struct {
	Bench Bench
	Log   *Log
	// End ends the session and returns its result as run --json writes it, unless
	// done is closed before.
	End func(done <-chan struct{}) ([]byte, error)
}

// Server serves one bench.
type Server struct {
	Config
	token string
	ready atomic.Pointer[[]byte]
	fleet Fleet // in place of the bench
	http  *http.Server
	long  chan struct{} // a place for each request that takes long
}

// NewToken is a fresh token for one run.
func NewToken() string { return rand.Text() }

// New is a server that answers with ready, one JSON line, to who shows the
// token.
func New(c Config, token string, ready []byte) *Server {
	return newServer(&Server{Config: c, token: token}, ready)
}

// route is one door.
type route struct {
	method, path string
	serve        http.HandlerFunc
}

// routes are all doors, in the order in which people read of them.
func (s *Server) routes() []route {
	return []route{
		{http.MethodGet, "/readyz", s.readyz},
		{http.MethodGet, "/v1/state", s.guarded(s.state, "device")},
		{http.MethodPost, "/v1/send", s.guarded(s.send, "device")},
		{http.MethodGet, "/v1/clock", s.guarded(s.clock)},
		{http.MethodPost, "/v1/clock", s.guarded(s.turn)},
		{http.MethodPost, "/v1/advance", s.guarded(s.oneSite(s.advance))},
		{http.MethodPost, "/v1/wait", s.guarded(s.wait, "device")},
		{http.MethodGet, "/v1/observations", s.guarded(s.oneSite(s.observations), "since")},
		{http.MethodGet, "/v1/sinks", s.guarded(s.oneSite(s.sinks), "name")},
		{http.MethodGet, "/v1/verdict", s.guarded(s.oneSite(s.verdict))},
		{http.MethodPost, "/v1/end", s.guarded(s.oneSite(s.end))},
	}
}

func newServer(s *Server, ready []byte) *Server {
	s.Tell(ready)
	s.long = make(chan struct{}, maxLong)
	mux := http.NewServeMux()
	methods := map[string][]string{}
	var doors []string
	for _, r := range s.routes() {
		mux.HandleFunc(r.method+" "+r.path, r.serve)
		methods[r.path] = append(methods[r.path], r.method)
		doors = append(doors, r.method+" "+r.path)
	}
	for path, allowed := range methods {
		mux.HandleFunc(path, otherMethod(path, allowed))
	}
	last := len(doors) - 1
	mux.HandleFunc("/", nothing(strings.Join(doors[:last], ", ")+" or "+doors[last]))
	origin := http.NewCrossOriginProtection()
	origin.SetDenyHandler(http.HandlerFunc(foreign))
	s.http = &http.Server{
		Handler:           origin.Handler(mux),
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       10 * time.Second,
		WriteTimeout:      patience,
		IdleTimeout:       30 * time.Second,
		MaxHeaderBytes:    16 << 10,
	}
	return s
}

// patience is how long a client may take to take an answer.
const patience = 10 * time.Second

// Tell puts another record in the place of ready.
func (s *Server) Tell(ready []byte) { s.ready.Store(&ready) }

// otherMethod says which method is needed.
func otherMethod(path string, allowed []string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Allow", strings.Join(allowed, ", "))
		fail(w, http.StatusMethodNotAllowed, "expected "+strings.Join(allowed, " or ")+" "+path)
	}
}

func nothing(doors string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		fail(w, http.StatusNotFound, "there is nothing; expected "+doors)
	}
}

func foreign(w http.ResponseWriter, _ *http.Request) {
	fail(w, http.StatusForbidden, "a page of another site may not ask")
}

// Serve answers on l until Close.
func (s *Server) Serve(l net.Listener) error {
	if err := s.http.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// Close ends the server, after the requests under way.
func (s *Server) Close() {
	ctx, cancel := context.WithTimeout(context.Background(), 3*time.Second)
	defer cancel()
	if s.http.Shutdown(ctx) != nil {
		s.http.Close()
	}
}

// readyz shows the whole ready record to who has the token, and to everybody
// else only that the simulator is ready: the record holds secrets.
func (s *Server) readyz(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	if s.authorised(r) {
		w.Write(*s.ready.Load())
		return
	}
	io.WriteString(w, "{\"ready\":true}\n")
}

// guarded is a door for who has the token. takes are the parameters that it has.
func (s *Server) guarded(h http.HandlerFunc, takes ...string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.authorised(r) {
			w.Header().Set("WWW-Authenticate", "Bearer")
			fail(w, http.StatusUnauthorized, "the bench token is needed: Authorization: Bearer TOKEN")
			return
		}
		if s.noDevice(w, r) && known(w, r, takes) {
			h(w, r)
		}
	}
}

// known refuses parameters of the address that the request does not take: one that is
// mistyped would seem to have been looked at.
func known(w http.ResponseWriter, r *http.Request, takes []string) bool {
	for _, name := range slices.Sorted(maps.Keys(r.URL.Query())) {
		if slices.Contains(takes, name) {
			continue
		}
		fail(w, http.StatusBadRequest, fmt.Sprintf("%s has no parameter %.40q: expected %s", r.URL.Path, name, cmp.Or(strings.Join(takes, " or "), "none")))
		return false
	}
	return true
}

func (s *Server) authorised(r *http.Request) bool {
	token, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	return ok && subtle.ConstantTimeCompare([]byte(token), []byte(s.token)) == 1
}

func (s *Server) state(w http.ResponseWriter, r *http.Request) {
	if s.fleet != nil {
		s.fleetState(w, r)
		return
	}
	answer(w, http.StatusOK, StateOf(s.Bench.Site()))
}

// send puts one timeline entry, as TOML, to the site.
func (s *Server) send(w http.ResponseWriter, r *http.Request) {
	body, ok := bodyOf(w, r)
	if !ok {
		return
	}
	command := snap.Command{Op: snap.OpInject, Text: string(body), By: by(r)}
	if s.fleet != nil {
		s.fleetSend(w, r, command)
		return
	}
	told(w, s.Bench.Submit(command))
}

// bodyOf is what the client sent, unless it is too much.
func bodyOf(w http.ResponseWriter, r *http.Request) ([]byte, bool) {
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	if err != nil {
		fail(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("the body is too long or did not come whole: expected at most %d bytes", maxBody))
	}
	return body, err == nil
}

func by(r *http.Request) snap.Actor { return snap.Actor{Surface: "bench", Peer: r.RemoteAddr} }

// told answers with what became of a command.
func told(w http.ResponseWriter, result snap.Result) {
	if !refused(w, result) {
		answer(w, http.StatusOK, map[string]bool{"done": true})
	}
}

// refused answers if a command was not carried out.
func refused(w http.ResponseWriter, result snap.Result) bool {
	switch result.Status {
	case snap.Done:
		return false
	case snap.Busy:
		fail(w, http.StatusServiceUnavailable, result.Reason)
	case snap.Gone:
		fail(w, http.StatusGone, result.Reason)
	case snap.Inconsistent:
		fail(w, http.StatusConflict, result.Reason)
	default:
		fail(w, http.StatusBadRequest, result.Reason)
	}
	return true
}

// takesLong gives the request a place among those that take long, and all the time
// it needs. The caller has read the body, and calls done in the end.
func (s *Server) takesLong(w http.ResponseWriter) (done func(), ok bool) {
	select {
	case s.long <- struct{}{}:
	default:
		fail(w, http.StatusServiceUnavailable, fmt.Sprintf("%d others wait or listen already", maxLong))
		return nil, false
	}
	c := http.NewResponseController(w)
	c.SetReadDeadline(time.Time{}) // it is read on, to see that the client is still there
	c.SetWriteDeadline(time.Time{})
	return func() {
		c.SetWriteDeadline(time.Now().Add(patience))
		<-s.long
	}, true
}

func fail(w http.ResponseWriter, code int, why string) {
	answer(w, code, map[string]string{"error": why})
}

func answer(w http.ResponseWriter, code int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(code)
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false) // there are conditions in it, with < and >
	e.Encode(v)
}
