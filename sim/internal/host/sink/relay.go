package sink

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// implicit is the port on which TLS comes before everything else (RFC 8314 section 3.3).
const implicit = 465

// relay is a sink of mail.
type relay struct{ *sink }

func newRelay(k *sink) *relay { return &relay{k} }

// talk is one session. Each has a server of its own, with what the sink offers at
// present.
func (r *relay) talk(conn net.Conn) {
	timer := time.AfterFunc(longest, func() { conn.Close() })
	defer timer.Stop()
	c := r.tls()
	if r.cfg.Port == implicit && c != nil {
		t := tls.Server(conn, c)
		conn.SetDeadline(time.Now().Add(patience))
		if err := t.Handshake(); err != nil {
			r.arrive(conn.RemoteAddr(), &snap.Arrival{Subject: "TLS", TLS: true}, "TLS: "+err.Error())
			return
		}
		conn, c = t, nil
	}
	server := smtp.NewServer(smtp.BackendFunc(func(s *smtp.Conn) (smtp.Session, error) { return &letterbox{relay: r, conn: s}, nil }))
	server.Domain, server.TLSConfig, server.ErrorLog = hello(r.cfg), c, quiet{}
	server.MaxRecipients, server.MaxMessageBytes, server.MaxLineLength = snap.MaxArrivalTo, maxMessage, 4<<10
	server.ReadTimeout, server.WriteTimeout = patience, patience
	one := &single{conn: conn, done: make(chan struct{})}
	server.Serve(one)
	server.Shutdown(context.Background()) // it has ended: the listener said so
}

func hello(cfg *plan.Server) string {
	if cfg.DNSName != "" {
		return cfg.DNSName
	}
	return "[" + cfg.Address.String() + "]" // RFC 5321 section 4.1.3
}

// quiet is where the library's own troubles go: what matters is told where it happens.
type quiet struct{}

// Printf implements the library's Logger.
func (quiet) Printf(string, ...any) {}

// Println implements the library's Logger.
func (quiet) Println(...any) {}

// single is a listener with one connection, which ends with it.
type single struct {
	conn net.Conn
	once sync.Once
	gave bool
	done chan struct{}
}

// Accept gives the connection, and the second time waits for its end.
func (s *single) Accept() (net.Conn, error) {
	if !s.gave {
		s.gave = true
		return &ending{Conn: s.conn, end: s.Close}, nil
	}
	<-s.done
	return nil, net.ErrClosed
}

// Close implements [net.Listener].
func (s *single) Close() error {
	s.once.Do(func() { close(s.done) })
	return nil
}

// Addr implements [net.Listener].
func (s *single) Addr() net.Addr { return s.conn.LocalAddr() }

// ending tells when it is closed.
type ending struct {
	net.Conn
	end func() error
}

// Close implements [net.Conn].
func (e *ending) Close() error {
	defer e.end()
	return e.Conn.Close()
}

// letterbox is what one client does.
type letterbox struct {
	relay   *relay
	conn    *smtp.Conn
	signsIn bool
	from    string
	to      []string
}

// AuthMechanisms implements the library's AuthSession.
func (l *letterbox) AuthMechanisms() []string { return []string{sasl.Plain, sasl.Login} }

// Auth takes any user and password, unless the sink refuses all of them. Nobody looks
// at the password.
func (l *letterbox) Auth(mech string) (sasl.Server, error) {
	check := func(string) error {
		if l.relay.state().SignIn == "refuse" {
			l.refused("535 the server refuses user and password")
			return smtp.ErrAuthFailed
		}
		l.signsIn = true
		return nil
	}
	switch mech {
	case sasl.Plain:
		return sasl.NewPlainServer(func(_, user, _ string) error { return check(user) }), nil
	case sasl.Login:
		return &login{check: check}, nil
	}
	return nil, smtp.ErrAuthUnknownMechanism
}

// login is the mechanism that some clients have and no standard: user and password,
// one after the other.
type login struct {
	check func(user string) error
	step  int
	user  string
}

// Next implements [sasl.Server].
func (a *login) Next(response []byte) (challenge []byte, done bool, err error) {
	if a.step == 0 && response != nil {
		a.step = 1 // the user came with the command
	}
	a.step++
	switch a.step {
	case 1:
		return []byte("Username:"), false, nil
	case 2:
		a.user = string(response)
		return []byte("Password:"), false, nil
	}
	return nil, true, a.check(a.user)
}

// Reset implements [smtp.Session].
func (l *letterbox) Reset() { l.from, l.to = "", nil }

// Logout implements [smtp.Session].
func (l *letterbox) Logout() error { return nil }

// Mail implements [smtp.Session].
func (l *letterbox) Mail(from string, _ *smtp.MailOptions) error {
	l.from = from
	return nil
}

// Rcpt refuses mailboxes that the sink does not have.
func (l *letterbox) Rcpt(to string, _ *smtp.RcptOptions) error {
	if slices.Contains(l.relay.cfg.Unknown, to) {
		l.to = append(l.to, to)
		l.refused("550 there is no mailbox " + to)
		l.to = l.to[:len(l.to)-1]
		return &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "there is no such mailbox"}
	}
	l.to = append(l.to, to)
	return nil
}

// Data implements [smtp.Session].
func (l *letterbox) Data(r io.Reader) error {
	a, err := readMail(r)
	a.From, a.To, a.SignsIn = l.from, l.to, l.signsIn
	_, a.TLS = l.conn.TLSConnectionState()
	if err != nil {
		if errors.Is(err, smtp.ErrDataTooLarge) {
			l.relay.arrive(l.conn.Conn().RemoteAddr(), &a, fmt.Sprintf("552 a message of more than %d bytes", maxMessage))
		}
		return err
	}
	result := l.relay.arrive(l.conn.Conn().RemoteAddr(), &a, "")
	l.relay.pause(l.relay.takes())
	if l.relay.state().Answer == string(plan.AnswerHangUp) || result.Status == snap.Gone {
		l.conn.Conn().Close()
	}
	return reply(result)
}

func (l *letterbox) refused(why string) {
	l.relay.arrive(l.conn.Conn().RemoteAddr(), &snap.Arrival{From: l.from, To: l.to}, why)
}

// reply is what the engine's answer is in SMTP.
func reply(r snap.Result) error {
	code, text := 451, r.Reason
	switch r.Status {
	case snap.Done:
		return nil
	case snap.Denied:
		code = 554
	}
	if n, rest, ok := strings.Cut(text, " "); ok && len(n) == 3 {
		if said, err := strconv.Atoi(n); err == nil && said >= 400 && said < 600 {
			code, text = said, rest
		}
	}
	return &smtp.SMTPError{Code: code, EnhancedCode: smtp.EnhancedCode{code / 100, 0, 0}, Message: text}
}
