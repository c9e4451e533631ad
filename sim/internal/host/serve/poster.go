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
	return &poster{endpoints: endpoints, syslog: syslog.New(), room: make(chan struct{}, posting), submit: submit, log: log}
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
	r := p.deliver(ctx, post, endpoint)
	if ctx.Err() == nil {
		p.tell(ctx, post.ID, r)
	}
}

func (p *poster) deliver(ctx context.Context, post *snap.Post, endpoint string) mail.Result {
	if post.Kind == snap.PostMail {
		return mail.Send(ctx, post, endpoint)
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
