package card

import (
	"fmt"
	"net/netip"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// desk is a card with alerts and somebody who answers what it sends.
type desk struct {
	*Card
	t   *testing.T
	now vtime.Tick
	ups State
	got []*snap.Post
	say func(*snap.Post) (snap.Outcome, bool, string)
}

func newDesk(t *testing.T, memory *snap.Memory, change func(*snap.AlertSettings)) *desk {
	t.Helper()
	a := snap.FactoryAlerts().Clone()
	a.Mail.Server, a.Mail.From, a.Mail.Security = "198.51.100.25", "ups@site.example", snap.MailPlain
	a.Recipients = []snap.Recipient{{Name: "desk", Address: "desk@site.example", Classes: snap.EveryClass, Least: snap.Warning, Recovery: true, Mode: snap.MailEach}}
	change(a)
	cfg := &plan.Card{
		Identity: snap.Identity{SerialNumber: "RT-1"}, Memory: memory, CardMake: &plan.CardMake{User: "technician", Private: true},
		Settings: snap.Settings{Name: "ups-a", Mode: snap.AddressFixed, Fixed: netip.MustParsePrefix("192.0.2.10/24"), Alerts: a},
	}
	start := time.Date(2026, 3, 2, 7, 55, 0, 0, time.UTC)
	d := &desk{t: t, Card: New(cfg, &plan.Network{}, 1, start, unheard), say: func(*snap.Post) (snap.Outcome, bool, string) { return snap.Delivered, true, "" }}
	d.ups.Source = snap.SourceNormal
	d.Start()
	d.until(0)
	return d
}

// until lets the card act up to a tick; what it sends is answered at once.
func (d *desk) until(to vtime.Tick) {
	d.t.Helper()
	for range 100_000 {
		d.Due(d.now, d.ups, func(snap.Notification) {})
		list := d.TakePosts()
		for _, p := range list {
			d.got = append(d.got, p)
			outcome, answered, reason := d.say(p)
			d.Posted(d.now, p.ID, outcome, answered, reason)
		}
		if len(list) > 0 {
			continue
		}
		next := d.Deadline(d.now)
		if next > to {
			d.now = to
			return
		}
		d.now = max(next, d.now+1)
	}
	d.t.Fatal("the card never comes to rest")
}

func (d *desk) set(k snap.AlarmKind, on bool) { d.ups.Conditions = d.ups.Conditions.With(k, on) }

func (d *desk) subjects() string {
	var list []string
	for _, p := range d.got {
		if p.Letter != nil {
			list = append(list, strings.TrimPrefix(p.Letter.Subject, "SIMULATION "))
		}
	}
	d.got = nil
	return strings.Join(list, "; ")
}

// TestIncident: a condition is told once it has lasted, its end once that has; what
// comes back in between is the same incident.
func TestIncident(t *testing.T) {
	d := newDesk(t, nil, func(*snap.AlertSettings) {})
	d.set(snap.AlarmFanFailure, true)
	d.until(4 * vtime.Second)
	if s := d.subjects(); s != "" {
		t.Errorf("before it is confirmed: %s", s)
	}
	d.until(6 * vtime.Second)
	if s := d.subjects(); s != "ups-a: warning: a fan has failed" {
		t.Error(s)
	}
	d.set(snap.AlarmFanFailure, false)
	d.until(20 * vtime.Second)
	d.set(snap.AlarmFanFailure, true)
	d.until(40 * vtime.Second)
	d.set(snap.AlarmFanFailure, false)
	d.until(69 * vtime.Second)
	if s := d.subjects(); s != "" {
		t.Errorf("before it has settled: %s", s)
	}
	d.until(71 * vtime.Second)
	if s := d.subjects(); s != "ups-a: cleared: fans work again" {
		t.Error(s)
	}
}

// TestWorthMail: what a test does is no outage, and an outage is told once.
func TestWorthMail(t *testing.T) {
	of := func(kinds ...snap.AlarmKind) (c device.Conditions) {
		for _, k := range kinds {
			c = c.With(k, true)
		}
		return c
	}
	battery, test, input := snap.AlarmOnBattery, snap.AlarmTestInProgress, snap.AlarmInputBad
	for i, row := range []struct{ is, want device.Conditions }{
		{of(battery), of(battery)}, {of(battery, input), of(battery)}, {of(battery, test), of(test)},
		{of(battery, test, input), of(battery, test)}, {of(input), of(input)}, {of(), of()},
	} {
		if got := worthMail(row.is); got != row.want {
			t.Errorf("row %d: %b", i, got)
		}
	}
}

// TestRules: class, severity and recovery decide.
func TestRules(t *testing.T) {
	d := newDesk(t, nil, func(a *snap.AlertSettings) {
		r := a.Recipients[0]
		r.Name, r.Least = "pager", snap.Critical
		mute := a.Recipients[0]
		mute.Name, mute.Recovery, mute.Classes = "mute", false, 1<<snap.ClassUnit
		a.Recipients = append(a.Recipients, r, mute)
	})
	d.set(snap.AlarmFanFailure, true)
	d.set(snap.AlarmBatteryBad, true)
	d.until(10 * vtime.Second)
	d.ups.Conditions = 0
	d.until(2 * vtime.Minute)
	var got []string
	for _, p := range d.got {
		got = append(got, fmt.Sprintf("%s %v %v", p.To, p.Event, p.Clears))
	}
	want := "desk battery_bad false,pager battery_bad false,desk fan_failure false,mute fan_failure false," +
		"desk battery_bad true,pager battery_bad true,desk fan_failure true"
	if s := strings.Join(got, ","); s != want {
		t.Errorf("got  %s\nwant %s", s, want)
	}
}

// TestRetry: the waits double, a refusal for good ends it, time does too; what
// leaves late says so.
func TestRetry(t *testing.T) {
	d := newDesk(t, nil, func(*snap.AlertSettings) {})
	var at []vtime.Tick
	d.say = func(*snap.Post) (snap.Outcome, bool, string) {
		at = append(at, d.now)
		return snap.Deferred, true, "451 later"
	}
	d.set(snap.AlarmGeneralFault, true)
	d.until(16 * vtime.Minute)
	for i, want := range []vtime.Tick{30, 60, 120, 240, 300} {
		if len(at) <= i+1 || at[i+1]-at[i] != want*vtime.Second {
			t.Fatalf("attempts at %v", at)
		}
	}
	d.say = func(*snap.Post) (snap.Outcome, bool, string) { return snap.Delivered, true, "" }
	d.got = nil
	d.until(25 * vtime.Minute)
	if s := d.subjects(); s != "LATE ups-a: critical: the unit reports a general fault" {
		t.Error(s)
	}
	if n := d.Posts().Mail; n.Late != 1 || n.Delivered != 1 || n.Waiting != 0 || n.Made != 1 {
		t.Errorf("%+v", n)
	}
	d.say = func(*snap.Post) (snap.Outcome, bool, string) { return snap.Rejected, true, "550 no such mailbox" }
	d.Try(d.now, "desk", snap.Actor{User: "technician", Surface: "ssh"})
	d.until(26 * vtime.Minute)
	d.say = func(*snap.Post) (snap.Outcome, bool, string) { return snap.Deferred, false, "no answer" }
	d.Try(d.now, "", snap.Actor{})
	d.until(6 * vtime.Hour)
	if n := d.Posts().Mail; n.Rejected != 1 || n.Expired != 1 || n.Waiting != 0 {
		t.Errorf("%+v", n)
	}
	text := fmt.Sprint(d.postOffice().Done)
	if !strings.Contains(text, "rejected 550 no such mailbox") || !strings.Contains(text, "expired no answer") {
		t.Error(text)
	}
}

// TestQueueIsBounded: the oldest that is not critical goes first.
func TestQueueIsBounded(t *testing.T) {
	d := newDesk(t, nil, func(*snap.AlertSettings) {})
	d.say = func(*snap.Post) (snap.Outcome, bool, string) { return snap.Deferred, false, "no answer" }
	d.set(snap.AlarmGeneralFault, true)
	d.until(10 * vtime.Second)
	for range 3 * queued {
		d.Try(d.now, "desk", snap.Actor{})
	}
	d.until(11 * vtime.Second)
	q := d.alerts.queue.own()
	if len(q.posts) != queued || q.posts[0].Event != snap.AlertEvent(snap.AlarmGeneralFault) {
		t.Errorf("%d wait, the first for %v", len(q.posts), q.posts[0].Event)
	}
	n := d.Posts().Mail
	if n.Dropped != 2*queued+1 || n.Waiting != queued || len(q.done) != remembered {
		t.Errorf("%+v, %d remembered", n, len(q.done))
	}
}

// TestPostsSurvive: what waits is in the memory, and leaves in the next life.
func TestPostsSurvive(t *testing.T) {
	d := newDesk(t, &snap.Memory{}, func(*snap.AlertSettings) {})
	d.say = func(*snap.Post) (snap.Outcome, bool, string) { return snap.Deferred, false, "no answer" }
	d.Try(d.now, "desk", snap.Actor{Surface: "serial"})
	d.until(vtime.Second)
	kept := &snap.Memory{Sections: d.Keep().Sections}
	if err := CheckMemory(kept, "RT-1"); err != nil {
		t.Fatal(err)
	}
	next := newDesk(t, kept, func(*snap.AlertSettings) {})
	next.until(vtime.Minute)
	if s := next.subjects(); s != "ups-a: test: this is a test message that somebody asked for: asked for by serial" {
		t.Error(s)
	}
	if k := next.Keep(); !strings.Contains(string(k.Sections["posts"]), `"posts":[]`) {
		t.Errorf("%s", k.Sections["posts"])
	}
}

// TestDigest: at its interval, with the journal since the last.
func TestDigest(t *testing.T) {
	d := newDesk(t, nil, func(a *snap.AlertSettings) {
		a.Recipients[0].Mode, a.Mail.DigestEvery = snap.MailDigest, vtime.Hour
	})
	d.set(snap.AlarmFanFailure, true)
	d.until(61 * vtime.Minute)
	if len(d.got) != 1 || !strings.HasSuffix(d.got[0].Letter.Subject, "digest") || !strings.Contains(d.got[0].Letter.Attachment, "alarm fan_failure raised") {
		t.Fatalf("%d messages", len(d.got))
	}
	d.until(121 * vtime.Minute)
	if len(d.got) != 2 || strings.Contains(d.got[1].Letter.Attachment, "fan_failure") {
		t.Errorf("%d messages, the second with what was in the first", len(d.got))
	}
}

// TestRecord: RFC 5424 section 6, and what would break it.
func TestRecord(t *testing.T) {
	d := newDesk(t, nil, func(a *snap.AlertSettings) {
		a.Recipients = nil
		a.Syslog = []snap.SyslogServer{{Name: "log", Server: "198.51.100.30", Port: 514, Transport: snap.SyslogUDP, Facility: 16, Classes: 1 << snap.ClassPower, Least: snap.Info}}
	})
	d.until(1500)
	d.set(snap.AlarmOnBattery, true)
	d.until(2 * vtime.Second)
	d.set(snap.AlarmOnBattery, false)
	d.until(3 * vtime.Second)
	if len(d.got) != 2 {
		t.Fatalf("%d messages", len(d.got))
	}
	want := []string{
		`<130>1 2026-03-02T07:55:01.500Z ups-a ridethrough - on_battery [event@32473 id="1" class="power" state="begins" serial="RT-1" simulation="yes"] SIMULATION the load runs on battery`,
		`<134>1 2026-03-02T07:55:02.000Z ups-a ridethrough - on_battery [event@32473 id="2" class="power" state="ends" serial="RT-1" simulation="yes"] SIMULATION the load is off the battery`,
	}
	for i, p := range d.got {
		if string(p.Text) != want[i] {
			t.Errorf("got  %s\nwant %s", p.Text, want[i])
		}
	}
	if header("a b\nc", 255) != "a-b-c" || header("", 9) != "-" || header("abc", 2) != "ab" || parameter(`a"b]\`) != `a\"b\]\\` {
		t.Error("what may not stand in a message")
	}
}

// TestCommunityFlood: wrong communities by the hundred are one mail and its count.
func TestCommunityFlood(t *testing.T) {
	d := newDesk(t, nil, func(*snap.AlertSettings) {})
	for i := range 600 {
		d.AuthFailed(vtime.Tick(i)*100, "192.0.2.99")
		d.until(vtime.Tick(i+1) * 100)
	}
	d.until(5 * vtime.Minute)
	if s := d.subjects(); s != "ups-a: warning: an SNMP request with a wrong community: from 192.0.2.99; ups-a: warning: an SNMP request with a wrong community, 600 times: from 192.0.2.99" {
		t.Error(s)
	}
}

// TestOlderRecord: a message of RFC 3164 has the card's own date without year and zone,
// printable ASCII only, and no more octets than section 4.1 allows.
func TestOlderRecord(t *testing.T) {
	d := newDesk(t, nil, func(a *snap.AlertSettings) {
		a.Recipients = nil
		a.Syslog = []snap.SyslogServer{{Name: "log", Server: "198.51.100.30", Port: 514, Transport: snap.SyslogUDP, Format: snap.Syslog3164, Facility: 16, Classes: 1<<snap.ClassPower | 1<<snap.ClassOutlets, Least: snap.Info}}
	})
	d.until(1500)
	d.set(snap.AlarmOnBattery, true)
	d.until(2 * vtime.Second)
	d.Hear(snap.EventGroup, 1, true, "Küche\n"+strings.Repeat("x", 2000))
	d.until(3 * vtime.Second)
	if len(d.got) != 2 {
		t.Fatalf("%d messages", len(d.got))
	}
	const want = "<130>Mar  2 07:55:01 ups-a ridethrough: on_battery id=1 class=power state=begins serial=RT-1 SIMULATION the load runs on battery"
	if got := string(d.got[0].Text); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if long := string(d.got[1].Text); len(long) != 1024 || !strings.Contains(long, "state=begins serial=RT-1 SIMULATION an outlet group is off: K?che?xxx") {
		t.Errorf("%d octets: %s", len(long), long)
	}
}
