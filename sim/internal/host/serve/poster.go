package serve

import (
	"context"
	"net/netip"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/mail"
	"ridethrough/sim/internal/host/syslog"
)

// posting bounds the messages that are on their way at once. The card sends one to
// each server at a time; after a restart it may have forgotten one.
const posting = 16

// poster brings mails and syslog messages to real servers.
type poster struct {
	endpoints map[netip.AddrPort]string
	syslog    *syslog.Sender
	room      chan struct{}
	submit    func(snap.Command) snap.Result
	log       func(string)
}

func newPoster(endpoints map[netip.AddrPort]string, submit func(snap.Command) snap.Result, log func(string)) *poster {
	p := &poster{endpoints: endpoints, syslog: syslog.New(), room: make(chan struct{}, posting), submit: submit, log: log}
	p.syslog.Shown = func(post *snap.Post, expires time.Time) { p.shown(post.Key(), expires) }
	return p
}

// shown tells the card what certificate a server has. If the inbox is full the card
// will be shown it again.
func (p *poster) shown(of snap.ServerKey, expires time.Time) {
	p.submit(snap.Command{Op: snap.OpShown, By: snap.Actor{Surface: "tls"}, Text: string(of), At: snap.StampOf(expires)})
}

// send takes one message to its server and tells the card what became of it. It
// waits for both: it never runs in the loop's goroutine.
func (p *poster) send(ctx context.Context, post *snap.Post) {
	select {
	case p.room <- struct{}{}:
		defer func() { <-p.room }()
	default:
		p.tell(ctx, post.ID, mail.Result{Outcome: snap.Deferred, Reason: "too many messages are on their way"})
		return
	}
	at, err := netip.ParseAddrPort(post.Mapped)
	endpoint := p.endpoints[at]
	if err != nil || endpoint == "" {
		p.tell(ctx, post.ID, mail.Result{Outcome: snap.Deferred, Reason: "no endpoint is mapped to " + post.Mapped})
		return
	}
	if late := post.After.Duration(); late > 0 {
		select {
		case <-ctx.Done():
		case <-time.After(late):
		}
	}
	r := p.deliver(ctx, post, endpoint)
	if ctx.Err() == nil {
		p.tell(ctx, post.ID, r)
	}
}

func (p *poster) deliver(ctx context.Context, post *snap.Post, endpoint string) mail.Result {
	if post.Kind == snap.PostMail {
		r := mail.Send(ctx, post, endpoint)
		if !r.Expires.IsZero() {
			p.shown(post.Key(), r.Expires)
		}
		return r
	}
	if err := p.syslog.Send(ctx, post, endpoint); err != nil {
		return mail.Result{Outcome: snap.Deferred, Reason: syslog.Line(err)}
	}
	return mail.Result{Outcome: snap.Delivered, Answered: true}
}

// tell is tried again while the inbox is full: nobody else will tell.
func (p *poster) tell(ctx context.Context, id uint32, r mail.Result) {
	c := snap.Command{
		Op: snap.OpPosted, By: snap.Actor{Surface: "mail"}, Post: id, Code: int(r.Outcome), OK: r.Answered, Text: r.Reason,
	}
	for p.submit(c).Status == snap.Busy && ctx.Err() == nil {
		time.Sleep(time.Millisecond)
	}
}
