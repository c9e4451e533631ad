package control

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/core/snap"
)

// maxBody bounds what a client may send in one request.
const maxBody = 64 << 10

// Bench is what the door leads to.
type Bench interface {
	Site() *snap.Site
	Submit(snap.Command) snap.Result
}

// Server serves one bench.
type Server struct {
	token string
	ready atomic.Pointer[[]byte]
	bench Bench
	fleet Fleet // in place of bench
	http  *http.Server
}

// NewToken is a fresh token for one run.
func NewToken() string { return rand.Text() }

// New is a server that answers with ready, one JSON line, to who shows the
// token.
func New(bench Bench, token string, ready []byte) *Server {
	return newServer(&Server{token: token, bench: bench}, ready)
}

func newServer(s *Server, ready []byte) *Server {
	s.Tell(ready)
	mux := http.NewServeMux()
	door(mux, http.MethodGet, "/readyz", s.readyz)
	door(mux, http.MethodGet, "/v1/state", s.guarded(s.state))
	door(mux, http.MethodPost, "/v1/send", s.guarded(s.send))
	mux.HandleFunc("/", nothing)
	origin := http.NewCrossOriginProtection()
	origin.SetDenyHandler(http.HandlerFunc(foreign))
	s.http = &http.Server{
		Handler:           origin.Handler(mux),
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       10 * time.Second,
		WriteTimeout:      10 * time.Second,
		IdleTimeout:       30 * time.Second,
		MaxHeaderBytes:    16 << 10,
	}
	return s
}

// Tell puts another record in the place of ready.
func (s *Server) Tell(ready []byte) { s.ready.Store(&ready) }

// door answers one method on one path, and says so to who tries another.
func door(mux *http.ServeMux, method, path string, h http.HandlerFunc) {
	mux.HandleFunc(method+" "+path, h)
	mux.HandleFunc(path, func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Allow", method)
		fail(w, http.StatusMethodNotAllowed, "expected "+method+" "+path)
	})
}

func nothing(w http.ResponseWriter, _ *http.Request) {
	fail(w, http.StatusNotFound, "there is nothing; expected GET /readyz, GET /v1/state or POST /v1/send")
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
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
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

func (s *Server) guarded(h http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.authorised(r) {
			w.Header().Set("WWW-Authenticate", "Bearer")
			fail(w, http.StatusUnauthorized, "the bench token is needed: Authorization: Bearer TOKEN")
			return
		}
		if s.noDevice(w, r) {
			h(w, r)
		}
	}
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
	answer(w, http.StatusOK, stateOf(s.bench.Site()))
}

// send puts one timeline entry, as TOML, to the site.
func (s *Server) send(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	if err != nil {
		fail(w, http.StatusRequestEntityTooLarge, "the entry is too long")
		return
	}
	command := snap.Command{
		Op: snap.OpInject, Text: string(body),
		By: snap.Actor{Surface: "bench", Peer: r.RemoteAddr},
	}
	if s.fleet != nil {
		s.fleetSend(w, r, command)
		return
	}
	told(w, s.bench.Submit(command))
}

// told answers with what became of a command.
func told(w http.ResponseWriter, result snap.Result) {
	switch result.Status {
	case snap.Done:
		answer(w, http.StatusOK, map[string]bool{"done": true})
	case snap.Busy:
		fail(w, http.StatusServiceUnavailable, result.Reason)
	case snap.Gone:
		fail(w, http.StatusGone, result.Reason)
	default:
		fail(w, http.StatusBadRequest, result.Reason)
	}
}

func fail(w http.ResponseWriter, code int, why string) {
	answer(w, code, map[string]string{"error": why})
}

func answer(w http.ResponseWriter, code int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(code)
	json.NewEncoder(w).Encode(v)
}
