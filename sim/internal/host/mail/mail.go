package mail

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/textproto"
	"strings"
	"time"

	gomail "github.com/wneessen/go-mail"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/trust"
)

// patience is how long a whole conversation may take, in real time.
const patience = 20 * time.Second

// Result is what an attempt came to. Answered says that there was a server that
// said so.
type Result struct {
	Outcome  snap.Outcome
	Answered bool
	Reason   string // one line, without anything secret
	// Expires is when the certificate does that the relay has shown; zero: none.
	Expires time.Time
}

// Send brings p to the relay at endpoint, host:port, which plays the one that the
// card's settings name. It ends with ctx, or when its patience does.
func Send(ctx context.Context, p *snap.Post, endpoint string) (r Result) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	message, err := compose(p.Letter)
	if err != nil {
		return Result{Outcome: snap.Rejected, Reason: "the message cannot be written: " + line(err)}
	}
	var expires time.Time
	defer func() { r.Expires = expires }()
	client, err := dialer(ctx, p, endpoint, func(t time.Time) { expires = t })
	if err != nil {
		return Result{Outcome: snap.Deferred, Reason: line(err)}
	}
	if err := client.DialAndSendWithContext(ctx, message); err != nil && message.SendError() == nil && !message.IsDelivered() {
		return failed(ctx, err)
	} else if !message.IsDelivered() {
		return failed(ctx, message.SendError())
	}
	return Result{Outcome: snap.Delivered, Answered: true}
}

// compose makes a message of RFC 5322.
func compose(l *snap.Letter) (*gomail.Msg, error) {
	m := gomail.NewMsg(gomail.WithNoDefaultUserAgent())
	if err := m.From(l.From); err != nil {
		return nil, err
	}
	if err := m.To(l.To); err != nil {
		return nil, err
	}
	m.Subject(l.Subject)
	m.SetDateWithValue(l.Date)
	m.SetMessageIDWithValue(l.MessageID)
	m.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no holiday notices, please
	m.SetBodyString(gomail.TypeTextPlain, l.Body)
	if l.Name != "" {
		return m, m.AttachReader(l.Name, strings.NewReader(l.Attachment), gomail.WithFileContentType("text/csv"))
	}
	return m, nil
}

// dialer is a client of the relay as the settings say.
func dialer(ctx context.Context, p *snap.Post, endpoint string, seen func(time.Time)) (*gomail.Client, error) {
	set := p.Mail
	secure := trust.Config(set.Trust, set.Server, seen)
	policy := gomail.TLSMandatory
	if set.Security != snap.MailStartTLS {
		policy = gomail.NoTLS
	}
	options := []gomail.Option{
		gomail.WithPort(int(set.Port)), gomail.WithHELO(p.Letter.Hello), gomail.WithTimeout(patience),
		gomail.WithTLSConfig(secure), gomail.WithTLSPolicy(policy), gomail.WithoutNoop(),
		gomail.WithDialContextFunc(func(_ context.Context, network, _ string) (net.Conn, error) {
			return dial(ctx, network, endpoint, set.Security == snap.MailTLS, secure)
		}),
	}
	if set.Security == snap.MailTLS {
		options = append(options, gomail.WithSSL(), gomail.WithPort(int(set.Port)))
	}
	if set.User != "" {
		options = append(options, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover), gomail.WithUsername(set.User), gomail.WithPassword(set.Password.Reveal()))
	}
	return gomail.NewClient(set.Server, options...)
}

// dial opens a connection that ends with ctx, whatever somebody waits for on it.
func dial(ctx context.Context, network, endpoint string, secured bool, secure *tls.Config) (net.Conn, error) {
	conn, err := (&net.Dialer{}).DialContext(ctx, network, endpoint)
	if err != nil {
		return nil, err
	}
	context.AfterFunc(ctx, func() { conn.Close() })
	if !secured {
		return conn, nil
	}
	c := tls.Client(conn, secure)
	if err := c.HandshakeContext(ctx); err != nil {
		conn.Close()
		return nil, fmt.Errorf("TLS: %w", err)
	}
	return c, nil
}

// failed sorts what went wrong. A refusal of user or password is the card's own
// mistake and can be mended: the message waits.
func failed(ctx context.Context, err error) Result {
	if errors.Is(ctx.Err(), context.DeadlineExceeded) {
		return Result{Outcome: snap.Deferred, Reason: "the relay takes too long"}
	}
	code, sent := 0, (*gomail.SendError)(nil)
	if said := (*textproto.Error)(nil); errors.As(err, &said) {
		code = said.Code
	}
	if errors.As(err, &sent) && sent.ErrorCode() != 0 {
		code = sent.ErrorCode()
	}
	r := Result{Outcome: snap.Deferred, Answered: code != 0, Reason: line(err)}
	signIn := code == 530 || code >= 534 && code <= 538
	if code >= 500 && !signIn {
		r.Outcome = snap.Rejected
	}
	var network *net.OpError
	if code == 0 && (!errors.As(err, &network) || strings.HasSuffix(network.Op, " error")) {
		r.Answered = true // it was there, and we could not come to terms, as crypto/tls calls it
	}
	return r
}

// line is err in one line of bounded length. Errors of the library hold what the
// server said, never what was sent to it.
func line(err error) string {
	text := strings.Join(strings.Fields(err.Error()), " ")
	return text[:min(len(text), 200)]
}
