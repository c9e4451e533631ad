package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestLossOnTheLink: row 8 of the needs. Of a link that loses everything nobody hears, of
// one that loses a part some; what is drawn is the same again, and a good link draws nothing.
func TestLossOnTheLink(t *testing.T) {
	run := func(pct string) *playtest.Run {
		src := managed + "on_battery_for = \"60s\"\n[monitor]\npoll_every = \"10s\"\n[network]\nloss_pct = " + pct + "\n"
		return playtest.Start(t, src).Inject(lost).To(30 * min)
	}
	if r := run("0"); r.Site.Monitor.Unanswered != 0 || r.Site.Net.Lost != 0 || r.Site.Shutdowns != 1 || r.Site.Card.Port != nil {
		t.Errorf("%+v, lost %d", r.Site.Monitor, r.Site.Net.Lost)
	}
	if r := run("100"); r.Site.Monitor.Answered != 0 || r.Site.Net.Lost == 0 || r.Site.Shutdowns != 0 {
		t.Errorf("%+v, %d shutdowns", r.Site.Monitor, r.Site.Shutdowns)
	}
	a, b := run("30"), run("30")
	if m := a.Site.Monitor; m.Answered == 0 || m.Unanswered == 0 || a.Site.Shutdowns != 1 || a.Trace() != b.Trace() || a.Site.Net.Lost != b.Site.Net.Lost {
		t.Errorf("%+v, %d shutdowns", m, a.Site.Shutdowns)
	}
	if got, all := a.Site.Card.PortNow().InErrors, a.Site.Net.Lost; got == 0 || got >= all {
		t.Errorf("the port has counted %d of %d that were lost both ways", got, all)
	}
}

// TestLossForAnyStep: a run that stops every so often comes to the same as one that does
// not.
func TestLossForAnyStep(t *testing.T) {
	src := managed + "on_battery_for = \"60s\"\n[monitor]\npoll_every = \"7s\"\n[network]\nloss_pct = 20\njitter = \"30ms\"\nburst_loss_pct = 30\nburst_packets = 2\n"
	whole := playtest.Start(t, src).Inject(lost).To(20 * min)
	cut := playtest.Start(t, src).Inject(lost)
	for at := vtime.Tick(0); at < 20*min; at += 333 {
		cut.To(at)
	}
	cut.To(20 * min)
	if *whole.Site.Monitor != *cut.Site.Monitor || whole.Site.Net.Lost != cut.Site.Net.Lost || whole.Site.Net.Lost == 0 {
		t.Errorf("whole: %+v, lost %d; in pieces: %+v, lost %d", whole.Site.Monitor, whole.Site.Net.Lost, cut.Site.Monitor, cut.Site.Net.Lost)
	}
}

// TestLossChanges: the timeline makes a link good again.
func TestLossChanges(t *testing.T) {
	r := playtest.Start(t, managed+"on_battery_for = \"60s\"\n[network]\nloss_pct = 100\n[monitor]\npoll_every = \"10s\"\n").To(5 * min)
	if r.Site.Monitor.Answered != 0 || !r.Site.Monitor.ContactLost {
		t.Fatalf("%+v", r.Site.Monitor)
	}
	r.Inject("network = { loss_pct = 0 }").To(10 * min)
	if m := r.Site.Monitor; m.Answered < 29 || m.ContactLost || r.Count("link loses 0 %") != 1 {
		t.Errorf("%+v", m)
	}
}

// TestRepetitions: the more often a request is repeated the fewer polls have no answer: of
// a link that loses a share p each way 1-(1-p)^2 of the tries, and so of n tries that to
// the power of n.
func TestRepetitions(t *testing.T) {
	unanswered := func(retries string) float64 {
		r := playtest.Start(t, managed+"on_low_battery = true\n[monitor]\npoll_every = \"1s\"\nretries = "+retries+"\n[network]\nloss_pct = 20\n").To(50 * min)
		return float64(r.Site.Monitor.Unanswered) / 3000
	}
	for retries, want := range map[string]float64{"0": 0.36, "1": 0.1296, "3": 0.0168} {
		if got := unanswered(retries); got < want*0.75 || got > want*1.25 {
			t.Errorf("%s repetitions: %.4f of the polls without an answer, want about %.4f", retries, got, want)
		}
	}
}

// TestDelay: an answer that comes after the time that a client waits is none, and one
// that comes in time is.
func TestDelay(t *testing.T) {
	run := func(delay string) *playtest.Run {
		src := managed + "on_battery_for = \"60s\"\ntimeout = \"1s\"\n[monitor]\npoll_every = \"10s\"\ntimeout = \"2s\"\n[network]\ndelay = \"" + delay + "\"\n"
		return playtest.Start(t, src).Inject(lost).To(20 * min)
	}
	if r := run("500ms"); r.Site.Shutdowns != 1 || r.Site.Monitor.Unanswered != 0 {
		t.Errorf("half a second: %d shutdowns, %+v", r.Site.Shutdowns, r.Site.Monitor)
	}
	if r := run("501ms"); r.Site.Shutdowns != 0 || r.Site.Monitor.Unanswered != 0 {
		t.Errorf("more than the policy waits: %d shutdowns, %+v", r.Site.Shutdowns, r.Site.Monitor)
	}
	if r := run("1001ms"); r.Site.Monitor.Answered != 0 || r.Site.Net.Lost != 0 {
		t.Errorf("more than both wait: %+v, %d lost", r.Site.Monitor, r.Site.Net.Lost)
	}
}

// TestOrderWithoutAnswer: an order whose answer is lost was carried out all the same; who
// gave it repeats it, with the next poll too.
func TestOrderWithoutAnswer(t *testing.T) {
	repeated := 0
	for _, seed := range []string{"1", "2", "3", "4", "5", "6"} {
		src := "seed = " + seed + "\n" + managed + "on_battery_for = \"60s\"\noff_delay = \"10m\"\nretries = 0\n[network]\nloss_pct = 40\n"
		r := playtest.Start(t, src).Inject(lost).To(30 * min)
		repeated += r.Count("an order to the card is not answered")
		if first := when(r, "control: upsShutdownAfterDelay 600"); first == vtime.Never || first > when(r, "orders the output off") || r.Count("output: off: ordered") != 1 {
			t.Errorf("seed %s: first taken at %v\n%s", seed, first, r.Trace())
		}
	}
	if repeated < 3 {
		t.Errorf("%d orders were not answered: the test shows nothing", repeated)
	}
}

// TestCancelIsRepeated: a cancel that nobody has answered is not taken for one: whoever
// believes it has hosts that stay up on an output that goes off.
func TestCancelIsRepeated(t *testing.T) {
	src := managed + "on_battery_for = \"60s\"\noff_when = \"at-once\"\noff_delay = \"20m\"\non_return = \"cancel\"\nretries = 0\n"
	repeated := 0
	for _, pct := range []string{"45", "50", "55", "60", "65", "70", "75", "80"} {
		r := playtest.Start(t, src).Inject(lost).To(3 * min).Inject("network = { loss_pct = " + pct + " }").Inject(`source = "normal"`).To(17 * min)
		repeated += r.Count("an order to the card is not answered")
		cancelled := r.Count("cancelled: the mains are back") == 1
		if cancelled && (r.Site.Control.ShutdownAt != vtime.Never || r.Count("control: upsShutdownAfterDelay -1") == 0) {
			t.Errorf("%s %%: believes in a cancel that the card has not heard of\n%s", pct, r.Trace())
		}
		if r.Count("orders the output off") != 1 {
			t.Errorf("%s %%: %d orders\n%s", pct, r.Count("orders the output off"), r.Trace())
		}
	}
	if repeated < 3 {
		t.Errorf("%d orders were not answered: the test shows nothing", repeated)
	}
}

const told = managed + `on_low_battery = true
[[peer]]
name = "nms"
address = "192.0.2.20/24"
[monitor]
peer = "nms"
poll_every = "1h"
retries = 0
`

// TestHeardIsWhatArrived: of traps peers, the monitoring manager and a sink hear the same
// ones; an inform all of them hear, in the end once.
func TestHeardIsWhatArrived(t *testing.T) {
	sink := "[[server]]\nname = \"box\"\nkind = \"snmp\"\naddress = \"192.0.2.20\"\nsink = true\nmatch = [{ name = \"on\", oid = \"1.3.6.1.2.1.33.2.1\" }]\n"
	for name, row := range map[string]struct{ how, sink string }{"traps": {"", ""}, "traps to a sink": {"", sink}, "informs": {", inform = true, retries = 8", ""}, "informs to a sink": {", inform = true, retries = 8", sink}} {
		src := strings.Replace(told, "[card]", "[card]\nreceivers = [{ to = \"192.0.2.20:162\", version = \"v2c\", community = \"x\""+row.how+" }]", 1)
		if src == told {
			src = told + "[card]\nreceivers = [{ to = \"192.0.2.20:162\", version = \"v2c\", community = \"x\"" + row.how + " }]\n"
		}
		r := playtest.Start(t, src+row.sink+"[network]\nloss_pct = 40\n")
		for i := range vtime.Tick(20) {
			r.Inject(lost).To(10*min*i + min).Inject(`source = "normal"`).To(10*min*i + 10*min)
		}
		sent, heard, astray := 0, r.Site.Net.Peers[0].Heard, 0
		for _, n := range r.Sent {
			sent++
			if n.Lost(0) {
				astray++
			}
		}
		want := sent - astray
		if row.how != "" {
			want = sent
		}
		if heard != want || astray < sent/4 || astray > sent*3/4 {
			t.Errorf("%s: %d sent, %d of them lost, %d heard, want %d", name, sent, astray, heard, want)
		}
		if row.sink != "" && r.Site.Sinks[0].Count != want {
			t.Errorf("%s: the sink has %d, want %d", name, r.Site.Sinks[0].Count, want)
		}
	}
}

const posted = `
title = "post"
run_for = "1h"
[battery]
block = "agm-12v-9ah"
series = 6
[[host]]
name = "a"
draw_w = 200
[card]
address = "192.0.2.10/24"
gateway = "192.0.2.1"
[card.alerts]
mail = { server = "198.51.100.25", port = 25, security = "none", from = "ups@site.example" }
recipient = [{ name = "duty", address = "duty@site.example", classes = "power", least = "critical" }]
syslog = [{ name = "log", server = "198.51.100.26", transport = "tcp", classes = "all", least = "info" }]
[[server]]
name = "relay"
kind = "mail"
address = "198.51.100.25"
sink = true
[[server]]
name = "box"
kind = "syslog"
address = "198.51.100.26"
sink = true
`

// TestTCPLosesTimeAlone: a lost segment is sent again after a second and more (RFC 6298),
// so that mails and lines over TCP come late and all of them. A line over UDP is gone.
func TestTCPLosesTimeAlone(t *testing.T) {
	run := func(src, pct string) (r *playtest.Run, mail, lines snap.PostCount) {
		r = playtest.Start(t, src+"[network]\nloss_pct = "+pct+"\n").To(min).Inject(lost).To(40 * min)
		return r, r.Site.Posts.Mail, r.Site.Posts.Syslog
	}
	good, _, _ := run(posted, "0")
	bad, mail, lines := run(posted, "20")
	if mail.Made == 0 || mail.Delivered != mail.Made || lines.Delivered != lines.Made || bad.Site.Sinks[1].Count != lines.Made || bad.Site.Sinks[0].Count != mail.Made {
		t.Errorf("mails %+v, lines %+v, kept %d and %d", mail, lines, bad.Site.Sinks[0].Count, bad.Site.Sinks[1].Count)
	}
	if a, b := good.Site.Sinks[0].Kept[0].At, bad.Site.Sinks[0].Kept[0].At; b < a+vtime.Second {
		t.Errorf("the first mail came at %v over a good link, at %v over a bad one", a, b)
	}
	r, mail, lines := run(strings.Replace(posted, "tcp", "udp", 1), "20")
	if lines.Lost == 0 || lines.Delivered == 0 || lines.Lost+lines.Delivered != lines.Made || r.Site.Sinks[1].Count != lines.Delivered {
		t.Errorf("over UDP: %+v, kept %d", lines, r.Site.Sinks[1].Count)
	}
	for _, done := range r.Site.Card.Posts.Done {
		if done.Kind == snap.PostSyslog && done.State != "sent" {
			t.Errorf("the card says %q of a datagram, of which it cannot know", done.State)
		}
	}
	if _, mail, lines = run(posted, "100"); mail.Delivered+lines.Delivered != 0 || mail.Waiting+lines.Waiting == 0 {
		t.Errorf("nothing passes: mails %+v, lines %+v", mail, lines)
	}
}

const asked = `
title = "asked"
run_for = "1h"
[battery]
block = "agm-12v-9ah"
series = 6
[[host]]
name = "a"
draw_w = 200
[card]
address = "192.0.2.10/24"
gateway = "192.0.2.1"
[card.sign_in]
order = "radius"
dead_time = "0s"
[[card.radius]]
name = "r"
at = "198.51.100.30:1812"
shared_secret = "rehearsal only"
timeout = "3s"
tries = 4
[[time_server]]
name = "one"
address = "198.51.100.5"
[[login_server]]
name = "first"
at = "198.51.100.30:1812"
[[login_server.user]]
name = "anna"
role = "administrator"
`

// TestRADIUSIsRepeated: each try that is lost costs the time-out (RFC 2865 section 2.4).
func TestRADIUSIsRepeated(t *testing.T) {
	r := playtest.Start(t, asked+"[network]\nloss_pct = 40\n")
	took := map[vtime.Tick]int{}
	for i := range vtime.Tick(40) {
		r.To(min + i*min).Inject(`sign_in = { user = "anna", over = "ssh", from = "192.0.2.50" }`).To(min + i*min + 30*sec)
		took[r.Site.SignIns.Took/sec]++
	}
	if took[0] == 0 || took[3] == 0 || took[6] == 0 || took[0]+took[3]+took[6]+took[9]+took[12] != 40 || r.Site.SignIns.Accepted < 30 {
		t.Errorf("%v, %+v", took, r.Site.SignIns)
	}
}

// TestTimeOverALossyLink: what is lost is a server that does not answer; ways of unequal
// length put its time off by half of the difference at most (RFC 5905 section 8).
func TestTimeOverALossyLink(t *testing.T) {
	if r := playtest.Start(t, asked+"[network]\nloss_pct = 100\n").To(30 * min); r.Site.Card.Time.Servers[0].Trust != snap.TrustSilent {
		t.Errorf("%+v", r.Site.Card.Time.Servers)
	}
	r := playtest.Start(t, asked+"[network]\njitter = \"400ms\"\n").To(30 * min)
	off := r.Site.Card.Clock.Stamp(r.Site.Tick) - snap.StampOf(r.Site.Start) - snap.Stamp(r.Site.Tick)
	if x := r.Site.Card.Time.Servers[0]; x.Trust == snap.TrustSilent || off == 0 || off > 250 || off < -250 {
		t.Errorf("%+v, the clock is %d ms off", x, off)
	}
}

// TestLeaseOverALossyLink: a card whose requests for an address are lost asks again, and
// comes to it all the same.
func TestLeaseOverALossyLink(t *testing.T) {
	src := strings.Replace(managed, "address =", "name = \"x\" #", 1) + "on_low_battery = true\n[network]\nlease = \"10m\"\nloss_pct = 30\n"
	r := playtest.Start(t, src).To(3 * vtime.Hour)
	if a := r.Site.Card.Address; !a.Reachable() || r.Count("address 192.0.2.10/24 (leased)") == 0 || r.Site.Net.Lost == 0 {
		t.Errorf("%+v, lost %d", a, r.Site.Net.Lost)
	}
	if r := playtest.Start(t, strings.Replace(src, "pct = 30", "pct = 100", 1)).To(vtime.Hour); r.Site.Card.Address.State == "leased" {
		t.Errorf("a lease over a link on which nothing passes: %+v", r.Site.Card.Address)
	}
}
