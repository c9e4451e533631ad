package site

import (
	"fmt"
	"net/netip"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/path"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// servers are those that the card sends to and asks. What it sends is answered here,
// unless the server is a real one.
type servers struct {
	list    []server
	outside map[string]bool // host:port of real ones
	answers []reply         // that are on their way
	sinks   *arrivals       // nil: none of them keeps anything
}

// server is one with its present state.
type server struct {
	cfg  *plan.Server
	now  plan.Server           // as the timeline has changed it
	seen map[string]vtime.Tick // addresses, by when they first came
	sink *sink                 // nil: it keeps nothing
}

// reply is what an attempt comes to, and when.
type reply struct {
	at  vtime.Tick
	id  uint32
	key snap.ServerKey
	plan.PostOutcome
	to   *server    // sink at which something arrives; nil: at none
	post *snap.Post // what does
}

// Times after which the card gives up waiting: common practice.
const (
	noAnswer = 30 * vtime.Second
	noName   = 10 * vtime.Second
	lookups  = 2 // that are tried in this time
)

func newServers(list []plan.Server, seed uint64) servers {
	var s servers
	for i := range list {
		s.list = append(s.list, server{cfg: &list[i], now: list[i], sink: newSink(&list[i], seed)})
		if list[i].Sink && s.sinks == nil {
			s.sinks = new(arrivals)
		}
	}
	return s
}

func (s *servers) deadline() vtime.Tick {
	next := vtime.Never
	for i := range s.answers {
		next = min(next, s.answers[i].at)
	}
	if s.sinks != nil {
		next = min(next, s.sinks.due())
	}
	return next
}

// runPosts brings answers back to the card, and carries out what it sends.
func (s *Site) runPosts(now vtime.Tick) {
	s.runFlights(now)
	kept := s.servers.answers[:0]
	for _, a := range s.servers.answers {
		if a.at > now {
			kept = append(kept, a)
			continue
		}
		s.showCard(now, a.key, a.Expires)
		if a.to != nil {
			s.keep(now, a.to, arrivalOf(a.post))
		}
		s.card.Posted(now, a.id, a.Outcome, a.Answered, a.Reason)
		s.touch()
	}
	s.servers.answers = kept
	for _, p := range s.card.TakePosts() {
		s.post(now, p)
		s.touch()
	}
}

// post sends one message on its way.
func (s *Site) post(now vtime.Tick, p *snap.Post) {
	wait := max(s.card.Waiting(now)-now, 0) // for the name that one before this is after
	o, takes := s.attempt(now+wait, p)
	takes += wait
	key := s.real(p.Where)
	spoken := o.Answered || key != "" && s.serverOf(p) == nil
	lost, late := false, vtime.Tick(0)
	if spoken && s.badLink() != nil {
		o, lost, late = s.carries(p, o)
	}
	if key != "" && spoken && !lost {
		out := *p
		out.Mapped, out.After = key, late
		s.emit(snap.Effect{Kind: snap.EffectPost, Post: &out})
		return
	}
	r := reply{at: now + max(takes+late, 1), id: p.ID, key: p.Key(), PostOutcome: o}
	if v := s.serverOf(p); v != nil && v.sink != nil && o.Outcome == snap.Delivered && !lost {
		r.to, r.post = v, p
	}
	s.servers.answers = append(s.servers.answers, r)
}

// real is the name under which the world outside has that server, "" if it has it
// not.
func (s *Site) real(where string) string {
	if s.servers.outside[where] {
		return where
	}
	host, port, ok := cutPort(where)
	if !ok {
		return ""
	}
	for i := range s.servers.list {
		v := s.servers.list[i].cfg
		for _, name := range []string{v.DNSName + ":" + port, addressed(v.Address, port)} {
			if answersTo(v, host) && s.servers.outside[name] {
				return name
			}
		}
	}
	return ""
}

func addressed(a netip.Addr, port string) string {
	if a.Is6() {
		return "[" + a.String() + "]:" + port
	}
	return a.String() + ":" + port
}

func cutPort(where string) (host, port string, ok bool) {
	i := strings.LastIndexByte(where, ':')
	if i < 0 {
		return "", "", false
	}
	return strings.Trim(where[:i], "[]"), where[i+1:], true
}

// serverOf is the one that the message goes to, nil if there is none.
func (s *Site) serverOf(p *snap.Post) *server {
	host, port, _ := cutPort(p.Where)
	kind := plan.ServerMail
	if p.Kind == snap.PostSyslog {
		kind = plan.ServerSyslog
	}
	for i := range s.servers.list {
		v := &s.servers.list[i]
		if v.cfg.Kind == kind && fmt.Sprint(v.cfg.Port) == port && answersTo(v.cfg, host) {
			return v
		}
	}
	return nil
}

// attempt is what a message comes to at the site's servers, and how long that takes.
func (s *Site) attempt(now vtime.Tick, p *snap.Post) (plan.PostOutcome, vtime.Tick) {
	host, _, _ := cutPort(p.Where)
	lookup, found := s.lookUp(now, host)
	if !found {
		return plan.PostOutcome{Outcome: snap.Deferred, Reason: "no server of names answers, to tell the address of " + host}, lookup
	}
	v := s.serverOf(p)
	if p.Datagram() && (v == nil || !s.serves(v) || v.now.Answer != plan.AnswerAccept) {
		return plan.PostOutcome{Outcome: snap.Deferred}, lookup // it has left, and that is all: nothing ever answers (RFC 5426 section 4)
	}
	if v == nil || !s.serves(v) {
		return plan.PostOutcome{Outcome: snap.Deferred, Reason: "no answer from " + p.Where}, lookup + noAnswer
	}
	if v.now.Answer == plan.AnswerClosed {
		return plan.PostOutcome{Outcome: snap.Deferred, Reason: "connection refused by " + p.Where}, lookup + vtime.Millisecond
	}
	if o, lapsed := s.lapsed(now, v, p); lapsed {
		return o, lookup + v.now.Takes
	}
	o := v.converse(now, callOf(p))
	o.Expires = s.shows(v, p)
	return o, lookup + v.now.Takes
}

// lookUp says how long it takes to find the address of host, and whether it is found.
func (s *Site) lookUp(now vtime.Tick, host string) (takes vtime.Tick, found bool) {
	if _, err := netip.ParseAddr(host); err == nil || s.card.KnowsName(now, host) {
		return 0, true
	}
	takes, found = s.askNames()
	if !found {
		takes = noName
	}
	s.card.LooksUp(now+takes, host, found)
	return takes, found
}

// askNames says how long a server of names takes, and whether one answers. Where the
// site has none all are found at once.
func (s *Site) askNames() (takes vtime.Tick, found bool) {
	any := false
	for i := range s.servers.list {
		v := &s.servers.list[i]
		if v.cfg.Kind != plan.ServerNames {
			continue
		}
		any = true
		if s.serves(v) && v.now.Answer == plan.AnswerAccept {
			return s.askName(v)
		}
	}
	return 0, !any
}

// serves says whether a server answers and the way to it is live.
func (s *Site) serves(v *server) bool { return v.now.Answer != plan.AnswerSilent && s.atWork(v) }

// atWork says whether a server runs and the way to it is live.
func (s *Site) atWork(v *server) bool {
	if v.cfg.Host >= 0 && s.hosts[v.cfg.Host].state != snap.HostRunning {
		return false
	}
	if !s.passes(v.cfg.Address) {
		return false
	}
	return !slices.ContainsFunc(v.cfg.Groups, func(g int) bool { return !s.groups[g].on })
}

// passes says whether packets pass between the card and a server: with one that is no
// peer whenever the card's own port lets them out.
func (s *Site) passes(server netip.Addr) bool {
	k := path.Peer(s.plan, server)
	return k < 0 && !s.isolated() || k >= 0 && path.ToPeer(s.plan, s.self.Network, s.pathState(), k) == snap.PathOpen
}

// lapsed says what comes of it that the certificate of a server, which the card would
// trust by its issuer, has expired by the card's clock.
func (s *Site) lapsed(now vtime.Tick, v *server, p *snap.Post) (o plan.PostOutcome, is bool) {
	ends := s.shows(v, p)
	if trust, _ := p.TLS(); trust != "system" || ends == 0 || !s.card.PastDate(now, ends) {
		return o, false
	}
	return plan.PostOutcome{Outcome: snap.Deferred, Answered: true, Reason: "the server's certificate has expired"}, true
}

// shows is when the certificate expires that a server shows on the way of p; 0: it
// shows none with a date.
func (s *Site) shows(v *server, p *snap.Post) snap.Stamp {
	if !secured(p) || v.now.TLS != "good" {
		return 0
	}
	return s.dateOf(v.now.Expires)
}

// dateOf is the true date at a tick; 0 of Never.
func (s *Site) dateOf(t vtime.Tick) snap.Stamp {
	if t == vtime.Never {
		return 0
	}
	return snap.StampOf(s.plan.Start) + snap.Stamp(t)
}

// showCard tells the card that a server has shown it a certificate with a date.
func (s *Site) showCard(now vtime.Tick, of snap.ServerKey, expires snap.Stamp) {
	if expires != 0 {
		s.card.Shown(now, of, expires)
	}
}

// wasShown is the same from a real server.
func (s *Site) wasShown(c snap.Command) snap.Result {
	if !s.card.Shown(s.now, snap.ServerKey(c.Text), c.At) {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("the settings have no server %q with TLS", c.Text)}
	}
	return snap.Result{}
}

// call is how somebody comes to a server.
type call struct {
	secured, signsIn bool
	from             string // of mail, its sender
	to               []string
}

func callOf(p *snap.Post) call {
	c := call{secured: secured(p), signsIn: p.Mail != nil && p.Mail.User != ""}
	if p.Letter != nil {
		c.from = p.Letter.From
	}
	if p.Address != "" {
		c.to = []string{p.Address}
	}
	return c
}

// converse is what a server that is at work says.
func (v *server) converse(now vtime.Tick, c call) plan.PostOutcome {
	deferred := func(why string) plan.PostOutcome {
		return plan.PostOutcome{Outcome: snap.Deferred, Answered: true, Reason: why}
	}
	if c.secured && v.now.TLS != "good" {
		return deferred(map[string]string{"old": "the server offers no version of TLS that the card accepts", "none": "the server offers no TLS"}[v.now.TLS])
	}
	if c.signsIn && v.now.SignIn == "refuse" {
		return deferred("535 the server refuses user and password")
	}
	switch answer := v.now.Answer; {
	case answer == plan.AnswerAccept:
		return v.route(now, c, deferred)
	case v.cfg.Kind == plan.ServerMail:
		return unwilling(answer, deferred)
	case v.cfg.Kind == plan.ServerSyslog:
		return deferred("the server has ended the connection") // which is all that it can do (RFC 6587)
	}
	return plan.PostOutcome{Outcome: snap.Rejected, Answered: true, Reason: "the receiver takes no messages"}
}

// unwilling is what a relay says that takes mail from nobody (RFC 5321 section 4.2.1).
func unwilling(answer plan.ServerAnswer, deferred func(string) plan.PostOutcome) plan.PostOutcome {
	switch answer {
	case plan.AnswerDefer:
		return deferred("451 the server asks to come again later")
	case plan.AnswerRefuse:
		return plan.PostOutcome{Outcome: snap.Rejected, Answered: true, Reason: "554 the server refuses the message"}
	}
	return deferred("the server has ended the connection before it answered")
}

// route is what it says about who writes to whom.
func (v *server) route(now vtime.Tick, c call, deferred func(string) plan.PostOutcome) plan.PostOutcome {
	if c.from != "" && !v.takesFrom(c.from) {
		return plan.PostOutcome{Outcome: snap.Rejected, Answered: true, Reason: "550 the server takes no mail from " + c.from}
	}
	late := false
	for _, to := range c.to {
		if slices.Contains(v.cfg.Unknown, to) {
			return plan.PostOutcome{Outcome: snap.Rejected, Answered: true, Reason: "550 there is no mailbox " + to}
		}
		late = v.now.Greylists > 0 && now-v.first(now, to) < v.now.Greylists || late
	}
	if late {
		return deferred("451 the server does not know this sender yet: come again later")
	}
	return plan.PostOutcome{Outcome: snap.Delivered, Answered: true}
}

// takesFrom says whether the domain of a sender is one that the server serves.
func (v *server) takesFrom(sender string) bool {
	_, domain, _ := strings.Cut(sender, "@")
	return len(v.cfg.Senders) == 0 || slices.ContainsFunc(v.cfg.Senders, func(d string) bool { return strings.EqualFold(d, domain) })
}

// secured says whether the message wants TLS.
func secured(p *snap.Post) bool {
	_, is := p.TLS()
	return is
}

// first is when an address was first seen.
func (v *server) first(now vtime.Tick, address string) vtime.Tick {
	if v.seen == nil {
		v.seen = map[string]vtime.Tick{}
	}
	if _, known := v.seen[address]; !known {
		v.seen[address] = now
	}
	return v.seen[address]
}

func answersTo(v *plan.Server, host string) bool {
	a, err := netip.ParseAddr(host)
	return err == nil && a == v.Address || host != "" && strings.EqualFold(host, v.DNSName)
}

// changeServer is a timeline entry.
func (s *Site) changeServer(now vtime.Tick, c *plan.ServerChange) {
	v := &s.servers.list[c.Server]
	if c.Answer != "" {
		v.now.Answer = c.Answer
		s.noteOnce("server "+v.cfg.Name, "answers: "+string(c.Answer))
	}
	if c.Takes != nil {
		v.now.Takes = *c.Takes
		s.noteOnce("server "+v.cfg.Name, "takes "+c.Takes.String())
	}
	if c.TLS != "" {
		v.now.TLS = c.TLS
		s.noteOnce("server "+v.cfg.Name, "TLS: "+c.TLS)
	}
	if c.SignIn != "" {
		v.now.SignIn = c.SignIn
		s.noteOnce("server "+v.cfg.Name, "sign-in: "+c.SignIn)
	}
	if c.Renew != nil {
		v.now.Expires = now + *c.Renew
		s.noteOnce("server "+v.cfg.Name, "shows another certificate, for "+c.Renew.String())
	}
	if c.Drops != nil {
		v.now.DropsPct = *c.Drops
		s.noteOnce("server "+v.cfg.Name, fmt.Sprintf("loses %g %% of what arrives", *c.Drops))
	}
	if c.Acks != "" {
		v.now.Acks = c.Acks
		s.noteOnce("server "+v.cfg.Name, "acknowledges: "+string(c.Acks))
	}
}

// posted takes up what became of a message at a real server.
func (s *Site) posted(c snap.Command) snap.Result {
	if c.Code < 0 || c.Code > int(snap.Rejected) {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no outcome %d", c.Code)}
	}
	s.card.Posted(s.now, c.Post, snap.Outcome(c.Code), c.OK, c.Text)
	return snap.Result{}
}

// mostOutside bounds how many real servers there can be.
const mostOutside = 64

// goOutside notes that a server is a real one.
func (s *Site) goOutside(c snap.Command) snap.Result {
	if _, _, ok := cutPort(c.Text); !ok || len(s.servers.outside) >= mostOutside {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("%q is no host:port, or one too many", c.Text)}
	}
	if s.servers.outside == nil {
		s.servers.outside = map[string]bool{}
	}
	s.servers.outside[c.Text] = true
	s.handOver()
	return snap.Result{}
}

// tryOut is somebody at the serial line who asks for test messages.
func (s *Site) tryOut(name string) {
	s.atCard("no test message", func() snap.Result {
		return s.try(snap.Command{Text: name, By: s.technician()})
	})
}

// handOver leaves to the world outside what is on its way to a sink that is real now.
func (s *Site) handOver() {
	if s.servers.sinks == nil {
		return
	}
	s.servers.sinks.flights = slices.DeleteFunc(s.servers.sinks.flights, func(f flight) bool { return s.servers.outside[f.set.To.String()] })
	s.servers.answers = slices.DeleteFunc(s.servers.answers, func(a reply) bool {
		if a.to == nil {
			return false
		}
		key := s.real(a.post.Where)
		if key == "" {
			return false
		}
		out := *a.post
		out.Mapped = key
		s.emit(snap.Effect{Kind: snap.EffectPost, Post: &out})
		return true
	})
}

// try makes test messages.
func (s *Site) try(c snap.Command) snap.Result {
	switch made := s.card.Try(s.now, c.Text, c.By); {
	case made == 0 && c.Text == "":
		return snap.Result{Status: snap.WrongValue, Reason: "there is nobody to try: no recipient with a mail relay, no collector, and no receiver to which the card sends notifications of its own"}
	case made == 0:
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("%q cannot be tried: the rules do not know it, no mail relay is set, or the card sends no notifications of its own", c.Text)}
	}
	return snap.Result{}
}
