package site

import (
	"fmt"
	"net/netip"
	"strings"
	"testing"
	"unicode/utf8"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// sinkBed is a site with one sink, and nothing else that works.
func sinkBed(cfg plan.Server) *Site {
	cfg.Host, cfg.Sink, cfg.Address, cfg.Port = -1, true, netip.MustParseAddr("198.51.100.25"), 25
	p := &plan.Plan{Servers: []plan.Server{cfg}}
	s := &Site{Scratch: new(Scratch), plan: p, self: p.Self()}
	s.servers = newServers(p.Servers, 1)
	return s
}

func arrive(s *Site, a snap.Arrival) snap.Result {
	return s.arrived(snap.Command{Op: snap.OpArrive, Host: "box", OK: true, Arrival: &a})
}

// TestManyArrivals: what is kept is bounded, what is counted is not, and a view that
// was handed out stays as it is.
func TestManyArrivals(t *testing.T) {
	s := sinkBed(plan.Server{Name: "box", Kind: plan.ServerMail, Answer: plan.AnswerAccept, Matches: []plan.Match{{Name: "odd", Subject: "ODD"}}})
	var early snap.Sink
	for i := range 10_000 {
		s.now = vtime.Tick(i)
		if r := arrive(s, snap.Arrival{From: "a@site.example", Subject: fmt.Sprintf("%d %s", i, []string{"even", "odd"}[i%2])}); r.Status != snap.Done {
			t.Fatal(r)
		}
		if i == 300 {
			early = s.viewSinks()[0]
		}
	}
	got := s.viewSinks()[0]
	if got.Count != 10_000 || got.Matched[0] != 5000 || len(got.Kept) != snap.MaxArrivals || got.Last != 9999 {
		t.Errorf("%d arrived, %v matched, %d kept, the last at %v", got.Count, got.Matched, len(got.Kept), got.Last)
	}
	if last := got.Kept[len(got.Kept)-1]; last.ID != 10_000 || last.Subject != "9999 odd" || len(last.Matched) != 1 {
		t.Errorf("the last is %+v", last)
	}
	if early.Count != 301 || early.Kept[len(early.Kept)-1].Subject != "300 even" || early.Matched[0] != 150 {
		t.Errorf("what was handed out has changed: %d, %v", early.Count, early.Matched)
	}
}

// TestArrivalBounds: nothing that somebody outside says is longer than its bound, or
// breaks a line of the trace.
func TestArrivalBounds(t *testing.T) {
	s := sinkBed(plan.Server{Name: "box", Kind: plan.ServerMail, Answer: plan.AnswerAccept})
	long := strings.Repeat("ä\n\x00", 50_000)
	to := make([]string, 1000)
	for i := range to {
		to[i] = long
	}
	arrive(s, snap.Arrival{From: long, To: to, Subject: long, Text: long, OID: long, Version: long, Key: long})
	a := s.viewSinks()[0].Kept[0]
	for _, text := range append([]string{a.From, a.Subject, a.OID, a.Version, a.Key}, a.To...) {
		if len(text) > snap.MaxArrivalLine || strings.ContainsAny(text, "\n\x00") || !utf8.ValidString(text) {
			t.Errorf("%d bytes: %q", len(text), text)
		}
	}
	if len(a.To) != snap.MaxArrivalTo || len(a.Text) > snap.MaxArrivalText+3 || !utf8.ValidString(a.Text) {
		t.Errorf("%d recipients, %d bytes of text", len(a.To), len(a.Text))
	}
	if text := s.events[0].Text; len(text) > 3*snap.MaxArrivalLine || strings.Contains(text, "\n") {
		t.Errorf("%q", text)
	}
}

// TestArrivalFaults: what its sender is told, and what is counted, by how the server
// is.
func TestArrivalFaults(t *testing.T) {
	for _, tt := range []struct {
		name   string
		cfg    plan.Server
		status snap.Status
		reason string
		want   snap.Sink // its counts
	}{
		{"accept", plan.Server{Answer: plan.AnswerAccept}, snap.Done, "", snap.Sink{Count: 1}},
		{"defer", plan.Server{Answer: plan.AnswerDefer}, snap.Inconsistent, "451", snap.Sink{Refused: 1}},
		{"refuse", plan.Server{Answer: plan.AnswerRefuse}, snap.Denied, "554", snap.Sink{Refused: 1}},
		{"hang up", plan.Server{Answer: plan.AnswerHangUp}, snap.Inconsistent, "ended the connection", snap.Sink{Refused: 1}},
		{"silent", plan.Server{Answer: plan.AnswerSilent}, snap.Inconsistent, "does not answer", snap.Sink{}},
		{"closed", plan.Server{Answer: plan.AnswerClosed}, snap.Inconsistent, "does not answer", snap.Sink{}},
		{"drops", plan.Server{Answer: plan.AnswerAccept, DropsPct: 100}, snap.Done, snap.Lost, snap.Sink{Lost: 1}},
		{"unknown mailbox", plan.Server{Answer: plan.AnswerAccept, Unknown: []string{"b@site.example"}}, snap.Denied, "550", snap.Sink{Refused: 1}},
		{"other senders", plan.Server{Answer: plan.AnswerAccept, Senders: []string{"other.example"}}, snap.Denied, "550", snap.Sink{Refused: 1}},
		{"greylists", plan.Server{Answer: plan.AnswerAccept, Greylists: vtime.Minute}, snap.Inconsistent, "451", snap.Sink{Refused: 1}},
	} {
		tt.cfg.Name, tt.cfg.Kind = "box", plan.ServerMail
		s := sinkBed(tt.cfg)
		r := arrive(s, snap.Arrival{From: "a@site.example", To: []string{"b@site.example"}})
		got := s.viewSinks()[0]
		if r.Status != tt.status || !strings.Contains(r.Reason, tt.reason) || got.Count != tt.want.Count || got.Refused != tt.want.Refused || got.Lost != tt.want.Lost {
			t.Errorf("%s: %+v; %d arrived, %d refused, %d lost", tt.name, r, got.Count, got.Refused, got.Lost)
		}
	}
}

// TestArrivalNonsense: a journal may hold anything.
func TestArrivalNonsense(t *testing.T) {
	s := sinkBed(plan.Server{Name: "box", Kind: plan.ServerMail, Answer: plan.AnswerAccept})
	for _, c := range []snap.Command{{Op: snap.OpArrive, Host: "box", OK: true}, {Op: snap.OpArrive, Host: "other", OK: true, Arrival: &snap.Arrival{}}} {
		if r := s.arrived(c); r.Status != snap.WrongValue {
			t.Errorf("%+v: %+v", c, r)
		}
	}
}

// TestRepeatedInform counts it once.
func TestRepeatedInform(t *testing.T) {
	s := sinkBed(plan.Server{Name: "box", Kind: plan.ServerSNMP, Answer: plan.AnswerAccept, Acks: plan.AcksNever})
	for range 3 {
		arrive(s, snap.Arrival{Subject: "on_battery", Key: "127.0.0.1:4/7"})
	}
	if got := s.viewSinks()[0]; got.Count != 1 || got.Repeats != 2 {
		t.Errorf("%d arrived, %d times again", got.Count, got.Repeats)
	}
}

func TestParseSyslog(t *testing.T) {
	for _, tt := range []struct{ text, from, subject string }{
		{"<134>1 2026-03-02T07:57:00+01:00 ups-a ridethrough - on_battery - \uFEFFthe load runs on battery", "ups-a ridethrough", "the load runs on battery"},
		{`<134>1 - host app 1 id [a@1 b="]\""][c@1 d="x"] text ] here`, "host app", "text ] here"},
		{"<134>1 - - app - - - text", "app", "text"},
		{"<13>Mar  2 07:57:00 host app[3]: old form", "host app[3]", "old form"},
		{"<13>Mar 32 07:57:00 host app: no date", "", "Mar 32 07:57:00 host app: no date"},
		{"<13>Mar  2 07:57:00 no tag", "", "Mar  2 07:57:00 no tag"},
		{"no priority", "", "no priority"},
		{"<134>1 - host app 1 id [never ends", "host app", ""},
		{"", "", ""},
	} {
		if got := ParseSyslog([]byte(tt.text)); got.From != tt.from || got.Subject != tt.subject || got.Text != tt.text {
			t.Errorf("%q: from %q, %q", tt.text, got.From, got.Subject)
		}
	}
}

func FuzzParseSyslog(f *testing.F) {
	f.Add([]byte(`<134>1 - host app 1 id [a@1 b="]\""] text`))
	f.Fuzz(func(t *testing.T, text []byte) {
		s := sinkBed(plan.Server{Name: "box", Kind: plan.ServerSyslog, Answer: plan.AnswerAccept})
		arrive(s, ParseSyslog(text))
		a := s.viewSinks()[0].Kept[0]
		if len(a.From) > snap.MaxArrivalLine || len(a.Subject) > snap.MaxArrivalLine || !utf8.ValidString(a.Text+a.From+a.Subject) {
			t.Errorf("%q became %+v", text, a)
		}
	})
}
