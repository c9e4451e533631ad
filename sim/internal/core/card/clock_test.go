package card_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const clocked = fixed + `
[card.clock]
CLOCK
`

const threeServers = `
[[time_server]]
name = "a"
address = "198.51.100.1"
[[time_server]]
name = "b"
address = "198.51.100.2"
[[time_server]]
name = "c"
address = "198.51.100.3"
`

func withClock(t *testing.T, clock, servers string) *playtest.Run {
	return playtest.Start(t, strings.Replace(clocked, "CLOCK", clock, 1)+servers)
}

// off is how far the clock is ahead of the true date.
func off(r *playtest.Run) time.Duration {
	d := r.Site.Card.Clock.Stamp(r.Site.Tick) - snap.StampOf(r.Site.Start) - snap.Stamp(r.Site.Tick)
	return time.Duration(d) * time.Millisecond
}

// trusts is what the card makes of its servers.
func trusts(r *playtest.Run) string {
	text := ""
	for _, s := range r.Site.Card.Time.Servers {
		text += fmt.Sprintf("%s %s %s;", s.Name, s.Trust, s.Reason)
	}
	return text
}

// TestServersSetTheClock: which servers are believed, and what becomes of the clock
// within a minute. A single server is believed if it is not absurd; of several the
// most that agree; of two that disagree the one nearer to a clock that was set, and
// neither for one that was not.
func TestServersSetTheClock(t *testing.T) {
	for name, row := range map[string]struct {
		clock, servers string
		off            time.Duration
		set            bool
		trust          string
	}{
		"right":            {"", threeServers, 0, true, "a agrees ;b taken ;c agrees ;"},
		"stepped":          {`offset = "-7m"`, threeServers, 0, true, "a agrees ;b taken ;c agrees ;"},
		"never set":        {"set = false", threeServers, 0, true, "a agrees ;b taken ;c agrees ;"},
		"too far off":      {`offset = "2h"`, threeServers, 2 * time.Hour, true, "a rejected it is further off than reach.time-limit;b rejected it is further off than reach.time-limit;c rejected it is further off than reach.time-limit;"},
		"any is believed":  {"offset = \"2h\"\nlimit = \"0s\"", threeServers, 0, true, "a agrees ;b taken ;c agrees ;"},
		"one is wrong":     {`offset = "1m"`, strings.Replace(threeServers, `1"`, "1\"\nwrong_by = \"3m\"", 1), 0, true, "a rejected the servers disagree;b taken ;c agrees ;"},
		"one is absurd":    {"set = false", strings.Replace(threeServers, `1"`, "1\"\nwrong_by = \"-300000h\"", 1), 0, true, "a rejected its date is absurd;b taken ;c agrees ;"},
		"one is lost":      {`offset = "1m"`, strings.Replace(threeServers, `1"`, "1\"\nanswers = false", 1), 0, true, "a silent no answer;b taken ;c agrees ;"},
		"one is too late":  {`offset = "1m"`, strings.Replace(threeServers, `1"`, "1\"\ndelay = \"6s\"", 1), 0, true, "a silent no answer;b taken ;c agrees ;"},
		"unsynchronised":   {`offset = "1m"`, strings.Replace(threeServers, `1"`, "1\"\nstratum = 16", 1), 0, true, "a rejected it is not synchronised itself;b taken ;c agrees ;"},
		"two, set":         {`offset = "1m"`, two("wrong_by = \"90s\""), 90 * time.Second, true, "a taken ;b rejected the servers disagree;"},
		"two, never set":   {"set = false", two("wrong_by = \"90s\""), 0, false, "a rejected the servers disagree;b rejected the servers disagree;"},
		"by hand":          {"offset = \"-7m\"\nfrom = \"hand\"", threeServers, -7 * time.Minute, true, ""},
		"wrong but alone":  {"set = false", one(`wrong_by = "1h"`), time.Hour, true, "a taken ;"},
		"nobody but wrong": {"", one(`wrong_by = "1h"`), 0, true, "a rejected it is further off than reach.time-limit;"},
	} {
		t.Run(name, func(t *testing.T) {
			r := withClock(t, row.clock, row.servers).To(vtime.Minute)
			if set := r.Site.Card.Clock.Set; set != row.set || set && off(r) != row.off {
				t.Errorf("set %v, %v ahead; want %v, %v", set, off(r), row.set, row.off)
			}
			if row.trust == "" {
				if r.Site.Card.Time != nil {
					t.Errorf("it asks %+v", r.Site.Card.Time)
				}
			} else if got := trusts(r); got != row.trust {
				t.Errorf("trust %s", got)
			}
		})
	}
}

func one(wrong string) string {
	return "[[time_server]]\nname = \"a\"\naddress = \"198.51.100.1\"\n" + wrong + "\n"
}

func two(wrong string) string {
	return one(wrong) + "[[time_server]]\nname = \"b\"\naddress = \"198.51.100.2\"\n"
}

// TestSmallErrorsAreSlewed: 500 parts per million, so that 400 ms take 800 s, and a
// drift is caught up with every time that the card asks.
func TestSmallErrorsAreSlewed(t *testing.T) {
	r := withClock(t, "offset = \"400ms\"\ninterval = \"24h\"", threeServers)
	for at, want := range map[vtime.Tick]time.Duration{400 * sec: 200 * time.Millisecond, 800 * sec: 0, 2000 * sec: 0} {
		r := withClock(t, "offset = \"400ms\"\ninterval = \"24h\"", threeServers).To(at + 2*sec)
		if d := off(r) - want; max(d, -d) > 2*time.Millisecond {
			t.Errorf("at %v: %v ahead, want %v", at, off(r), want)
		}
	}
	if r.To(sec); off(r) != 400*time.Millisecond {
		t.Errorf("%v ahead before anybody was asked", off(r))
	}
	r = withClock(t, "drift_ppm = 100\ninterval = \"10m\"", threeServers)
	for at := vtime.Hour; at < 6*vtime.Hour; at += 7 * vtime.Minute {
		if r.To(at); off(r) < -5*time.Millisecond || off(r) > 65*time.Millisecond {
			t.Fatalf("at %v: %v ahead with 60 ms of drift from round to round", at, off(r))
		}
	}
}

// TestLateServer: a clock that was never set is asked for again with longer and
// longer pauses, and set when the server is there.
func TestLateServer(t *testing.T) {
	r := withClock(t, "set = false", one("answers = false")).To(20 * min)
	if r.Site.Card.Clock.Set || r.Site.Card.Date(r.Site.Tick).Year() != 1970 {
		t.Errorf("%+v", r.Site.Card.Clock)
	}
	r.Inject(`time_server = { name = "a", answers = true }`).To(40 * min)
	if !r.Site.Card.Clock.Set || off(r) != 0 || r.Site.Card.Clock.From != "a" {
		t.Errorf("%+v, %v", r.Site.Card.Clock, off(r))
	}
}

// TestUptimeKeepsOutOfSteps: a step back makes no time negative; the order of the
// journal is that of its numbers, whatever the dates.
func TestUptimeKeepsOutOfSteps(t *testing.T) {
	r := withClock(t, "drift_ppm = 500", "").To(1000 * sec)
	before := r.Site.Card.Runs(r.Site.Tick)
	r.Inject(`clock = "-48h"`)
	c := &r.Site.Card
	if c.Runs(r.Site.Tick) != before || before != 1000*sec+500 {
		t.Errorf("it runs for %v, then %v", before, c.Runs(r.Site.Tick))
	}
	if off(r) != -48*time.Hour || c.Clock.From != "hand" {
		t.Errorf("%v, %+v", off(r), c.Clock)
	}
	r.To(2000 * sec).Inject(`card = "restart"`).To(3000 * sec)
	entries := r.Site.Card.Journal
	back := 0
	for i := 1; i < len(entries); i++ {
		if entries[i].Seq != entries[i-1].Seq+1 {
			t.Errorf("%d follows %d", entries[i].Seq, entries[i-1].Seq)
		}
		if entries[i].At < entries[i-1].At {
			back++
		}
	}
	if back != 1 {
		t.Errorf("the dates go back %d times", back)
	}
	if !strings.Contains(entries[1].Text, "clock set by") || !strings.Contains(entries[1].Text, "48h0m0.5s back") {
		t.Errorf("journal: %q", entries[1].Text)
	}
}

// TestSetClockByCommand is refused to viewers and operators.
func TestSetClockByCommand(t *testing.T) {
	r := withClock(t, "", "").To(sec)
	to := snap.StampOf(r.Site.Start) + 3600_000
	for role, want := range map[snap.Role]snap.Status{snap.Viewer: snap.Denied, snap.Operator: snap.Denied, snap.Administrator: snap.Done} {
		res := r.Do(snap.Command{Op: snap.OpClock, By: snap.Actor{Surface: "serial", User: "x", Role: role}, At: to})
		if res.Status != want {
			t.Errorf("%v: %+v", role, res)
		}
	}
	if off(r) != time.Hour-time.Second {
		t.Errorf("%v ahead", off(r))
	}
}

// TestServerWithoutPower does not answer.
func TestServerWithoutPower(t *testing.T) {
	const group = "[[group]]\nname = \"net\"\nfed_by = \"mains\"\n"
	r := withClock(t, `offset = "1m"`, group+one(`group = "net"`)+"[[at]]\ntime = \"1s\"\nsource = \"lost\"\n").To(min)
	if off(r) != time.Minute || trusts(r) != "a silent no answer;" {
		t.Errorf("%v, %s", off(r), trusts(r))
	}
}

// TestSettingsOfTheClock: another server and zone are in force when they are saved.
func TestSettingsOfTheClock(t *testing.T) {
	r := withClock(t, `offset = "1m"`, strings.Replace(one(""), "\n", "\nknown = false\n", 1)).To(min)
	if off(r) != time.Minute || r.Site.Card.Time != nil {
		t.Fatalf("%v, %+v", off(r), r.Site.Card.Time)
	}
	r.Inject(`settings = { "reach.time-server.new.address" = "198.51.100.1", "reach.zone" = "CET-1CEST,M3.5.0,M10.5.0/3" }`).To(2 * min)
	if _, offset := r.Site.Card.Date(0).Zone(); off(r) != 0 || r.Site.Card.Clock.From != "new" || offset != 3600 {
		t.Errorf("%v, %+v, %d", off(r), r.Site.Card.Clock, offset)
	}
}
