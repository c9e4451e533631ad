package sshd

import (
	"context"
	"crypto"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"strings"
	"sync"
	"time"

	"github.com/gliderlabs/ssh"
	gossh "golang.org/x/crypto/ssh"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/menu"
	"ridethrough/sim/internal/face/term"
)

// Config is what a server needs. A zero duration or count takes the default
// that stands beside it.
type Config struct {
	Source  snap.Source
	HostKey crypto.Signer // at first; see [Server.ChangeHostKey]

	// Verify asks who knows users; nil: the card's own accounts alone.
	Verify term.Verify

	// From, if not nil, is the address that a client has in the card's network, by the one
	// of its connection: the access list goes by it. Invalid: it has none.
	From func(real netip.Addr) netip.Addr

	MaxSessions    int           // 4: dialogs at the same time
	MaxConnections int           // 16: connections, signed in or not
	SignInWithin   time.Duration // 60 s: from the connection to the first dialog
	Idle           time.Duration // as the card's settings say: without a key in a dialog
	WriteWithin    time.Duration // 10 s: for the client to take what is shown

	// OnPanic, if not nil, is told of a panic that cost a client its connection.
	OnPanic func(value any, stack []byte)
}

const (
	version = "ridethrough_SIMULATION" // no hyphen: RFC 4253, section 4.2
	notice  = "SIMULATION - no real equipment is connected here\n"

	longestIdle = time.Hour // that a card can be set to
)

// ErrClosed is returned by Serve after Close.
var ErrClosed = errors.New("sshd: server closed")

// Server serves the menu of one card.
type Server struct {
	c   Config
	lib *ssh.Server

	mu        sync.Mutex
	closed    bool
	listeners map[net.Listener]struct{}
	conns     map[*conn]struct{}
	sessions  int
	tries     throttle
	running   sync.WaitGroup
}

// New checks c and makes a server of it.
func New(c Config) (*Server, error) {
	if c.Source == nil {
		return nil, errors.New("sshd: no source")
	}
	if c.HostKey == nil {
		return nil, errors.New("sshd: no host key")
	}
	signer, err := gossh.NewSignerFromSigner(c.HostKey)
	if err != nil {
		return nil, fmt.Errorf("sshd: host key: %w", err)
	}
	setDefault(&c.MaxSessions, 4)
	setDefault(&c.MaxConnections, 16)
	setDefault(&c.SignInWithin, time.Minute)
	setDefault(&c.WriteWithin, 10*time.Second)
	s := &Server{c: c, listeners: map[net.Listener]struct{}{}, conns: map[*conn]struct{}{}}
	s.lib = s.library(signer)
	return s, nil
}

// ChangeHostKey puts key in the place of the one of its kind, for connections that
// begin from now on, and returns its fingerprint.
func (s *Server) ChangeHostKey(key crypto.Signer) (fingerprint string, err error) {
	signer, err := gossh.NewSignerFromSigner(key)
	if err != nil {
		return "", fmt.Errorf("sshd: host key: %w", err)
	}
	s.lib.AddHostKey(signer)
	return gossh.FingerprintSHA256(signer.PublicKey()), nil
}

func setDefault[T int | time.Duration](x *T, value T) {
	if *x <= 0 {
		*x = value
	}
}

// library sets up gliderlabs/ssh: sessions only, no forwarding, no subsystem;
// passwords, and public keys past the library, which takes a key for proved that was
// only offered.
func (s *Server) library(signer ssh.Signer) *ssh.Server {
	return &ssh.Server{
		Version:     version,
		HostSigners: []ssh.Signer{signer},
		Handler:     s.handle,
		// Dead peers: the dialog's own time-out is the shorter one.
		IdleTimeout:          max(s.c.Idle, longestIdle) + s.c.SignInWithin,
		PasswordHandler:      s.password,
		ServerConfigCallback: s.serverConfig,
		ChannelHandlers:      map[string]ssh.ChannelHandler{"session": s.channel},
		RequestHandlers:      map[string]ssh.RequestHandler{},
		SubsystemHandlers:    map[string]ssh.SubsystemHandler{},
		ConnCallback: func(ctx ssh.Context, nc net.Conn) net.Conn {
			ctx.SetValue(connKey{}, nc)
			return nc
		},
	}
}

// metaKey, connKey and tellKey find what belongs to a connection in its context.
type (
	metaKey struct{}
	connKey struct{}
	tellKey struct{}
)

// serverConfig keeps the connection's own account of who signs in. The library
// remembers the user of the first try only, but a client may try another one.
func (s *Server) serverConfig(ctx ssh.Context) *gossh.ServerConfig {
	return &gossh.ServerConfig{
		Config:            algorithms(s.c.Source.Device().Card.Settings.Link().SSH),
		MaxAuthTries:      menu.MaxTries,
		PublicKeyCallback: s.offered,
		VerifiedPublicKeyCallback: func(meta gossh.ConnMetadata, key gossh.PublicKey, p *gossh.Permissions, _ string) (*gossh.Permissions, error) {
			return s.proved(ctx, meta, key, p)
		},
		PreAuthConnCallback: func(c gossh.ServerPreAuthConn) { ctx.SetValue(tellKey{}, c) },
		BannerCallback: func(meta gossh.ConnMetadata) string {
			ctx.SetValue(metaKey{}, meta)
			return s.banner()
		},
	}
}

// banner is what a client is told before it signs in (RFC 4252 section 5.4, by which
// lines end in CR LF): that nothing here is real, and what the card's owner has to say.
func (s *Server) banner() string {
	text := notice + s.c.Source.Device().Card.Settings.SignInRules().Notice()
	return strings.ReplaceAll(text, "\n", "\r\n")
}

// longestUser is the most octets of a user name: RADIUS carries no longer one (RFC 2865
// section 5.1), and accounts have shorter ones.
const longestUser = 253

// userOf is the user that a client names, cut where nobody can be meant any more.
func userOf(meta gossh.ConnMetadata) string {
	user := meta.User()
	return user[:min(len(user), longestUser)]
}

// password checks one try and has it reported.
func (s *Server) password(ctx ssh.Context, password string) bool {
	meta, ok := ctx.Value(metaKey{}).(gossh.ConnMetadata)
	if !ok {
		return false
	}
	d := s.c.Source.Device()
	if !term.Up(d, true) {
		return false
	}
	by := snap.Actor{Surface: "ssh", User: userOf(meta), Peer: meta.RemoteAddr().String()}
	verdict := snap.Verdict{From: snap.Local}
	if !s.tries.allow(meta.RemoteAddr(), time.Now()) {
		return false // nobody looks, and nobody is told: a flood of guesses is no news
	}
	if d.Card.LockedFor(by.User, by.Surface, max(d.Tick, s.c.Source.Now())) == 0 {
		verdict = s.verify(ctx, by, password)
	}
	right := s.signIn(ctx, by, verdict)
	if right {
		s.tries.forget(meta.RemoteAddr())
	}
	return right
}

func (s *Server) verify(ctx context.Context, by snap.Actor, password string) snap.Verdict {
	if s.c.Verify == nil {
		return s.c.Source.Device().Card.Verify(by.User, password)
	}
	return s.c.Verify(ctx, by, password)
}

// signIn has a try reported, and begins the connection's session.
func (s *Server) signIn(ctx ssh.Context, by snap.Actor, v snap.Verdict) bool {
	by.Role = v.Role
	r := s.c.Source.Submit(snap.Command{Op: snap.OpSignIn, By: by, OK: v.OK, Text: string(v.From)})
	if v.OK && r.Status == snap.Denied {
		tell(ctx, r.Reason)
	}
	if r.Status != snap.Done || !v.OK {
		return false
	}
	by.Role, by.Session = r.Role, r.Session
	connOf(ctx).signedIn(by)
	return true
}

// tell says to a client why it does not get in, although it has proved who it is.
func tell(ctx ssh.Context, why string) {
	if c, ok := ctx.Value(tellKey{}).(gossh.ServerPreAuthConn); ok {
		c.SendAuthBanner("Refused: " + why + ".\r\n")
	}
}

// Serve takes connections from l until Close, and closes l. It returns ErrClosed
// or the error with which l failed.
func (s *Server) Serve(l net.Listener) error {
	defer l.Close()
	if !s.add(l) {
		return ErrClosed
	}
	defer s.running.Done()
	defer s.remove(l)
	for {
		nc, err := l.Accept()
		if err == nil {
			s.accept(nc)
			continue
		}
		if s.isClosed() {
			return ErrClosed
		}
		if !passing(err) {
			return fmt.Errorf("sshd: %w", err)
		}
		time.Sleep(50 * time.Millisecond) // short of descriptors: let some go
	}
}

// passing says whether accepting may go on after err.
func passing(err error) bool {
	var ne interface{ Temporary() bool }
	return errors.As(err, &ne) && ne.Temporary()
}

func (s *Server) add(l net.Listener) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return false
	}
	s.listeners[l] = struct{}{}
	s.running.Add(1)
	return true
}

func (s *Server) remove(l net.Listener) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.listeners, l)
}

func (s *Server) isClosed() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.closed
}

// Close ends every connection and returns when nothing of the server runs.
func (s *Server) Close() error {
	s.mu.Lock()
	s.closed = true
	for l := range s.listeners {
		l.Close()
	}
	for c := range s.conns {
		c.Close()
	}
	s.mu.Unlock()
	s.running.Wait()
	return nil
}
