package card

import (
	"net/netip"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// aging is a desk whose warnings become critical after an hour; the lead hears of
// what is critical alone.
func aging(t *testing.T, change func(*snap.AlertSettings)) *desk {
	return newDesk(t, nil, func(a *snap.AlertSettings) {
		a.RiseAfter = vtime.Hour
		a.Recipients = []snap.Recipient{
			{Name: "desk", Address: "desk@site.example", Classes: snap.EveryClass, Least: snap.Warning, Recovery: true, Mode: snap.MailEach},
			{Name: "lead", Address: "lead@site.example", Classes: snap.EveryClass, Least: snap.Critical, Recovery: true, Mode: snap.MailEach},
		}
		if change != nil {
			change(a)
		}
	})
}

// mailed is what went to one recipient.
func mailed(d *desk, to string) (list []string) {
	for _, p := range d.got {
		if p.To == to {
			list = append(list, strings.TrimPrefix(p.Letter.Subject, "SIMULATION ups-a: "))
		}
	}
	return list
}

func TestAWarningAges(t *testing.T) {
	d := aging(t, nil)
	d.set(snap.AlarmOnBypass, true)
	d.until(vtime.Hour - vtime.Second)
	if got := mailed(d, "lead"); len(got) != 0 {
		t.Errorf("before its time: %q", got)
	}
	d.until(3 * vtime.Hour)
	if got := mailed(d, "lead"); len(got) != 1 || !strings.HasPrefix(got[0], "critical: the load is on the bypass") || !strings.HasSuffix(got[0], "nothing has changed") {
		t.Errorf("told %q", got)
	}
	d.set(snap.AlarmOnBypass, false)
	d.until(4 * vtime.Hour)
	if got := mailed(d, "lead"); len(got) != 2 || !strings.HasPrefix(got[1], "cleared: ") {
		t.Errorf("the end: %q", got)
	}
	if got := mailed(d, "desk"); len(got) < 3 {
		t.Errorf("the desk: %q", got)
	}
	if n := d.Posts().Risen; n != 1 {
		t.Errorf("%d have risen", n)
	}
}

// TestWhatDoesNotAge: what is critical already, what is over in time, what is of
// another class, and everything while it is off.
func TestWhatDoesNotAge(t *testing.T) {
	for name, row := range map[string]struct {
		alarm  snap.AlarmKind
		lasts  vtime.Tick
		change func(*snap.AlertSettings)
		lead   int
	}{
		"critical":      {snap.AlarmChargerFailed, 3 * vtime.Hour, nil, 1},
		"over":          {snap.AlarmOnBypass, 59 * vtime.Minute, nil, 0},
		"info":          {snap.AlarmAwaitingPower, 3 * vtime.Hour, nil, 0},
		"another class": {snap.AlarmOnBypass, 3 * vtime.Hour, func(a *snap.AlertSettings) { a.RiseClasses = 1 << snap.ClassUnit }, 0},
		"its class":     {snap.AlarmFanFailure, 3 * vtime.Hour, func(a *snap.AlertSettings) { a.RiseClasses = 1 << snap.ClassUnit }, 1},
		"off":           {snap.AlarmOnBypass, 3 * vtime.Hour, func(a *snap.AlertSettings) { a.RiseAfter = 0 }, 0},
	} {
		t.Run(name, func(t *testing.T) {
			d := aging(t, row.change)
			d.set(row.alarm, true)
			d.until(row.lasts)
			if got := mailed(d, "lead"); len(got) != row.lead {
				t.Errorf("%q", got)
			}
		})
	}
}

// TestAgeOutlivesARestart: what is there before and after a restart of the card has
// lasted all the time.
func TestAgeOutlivesARestart(t *testing.T) {
	d := aging(t, nil)
	d.set(snap.AlarmOnBypass, true)
	d.until(50 * vtime.Minute)
	d.Restart(50 * vtime.Minute)
	d.until(59 * vtime.Minute)
	if got := mailed(d, "lead"); len(got) != 0 {
		t.Errorf("%q", got)
	}
	d.until(62 * vtime.Minute)
	if got := mailed(d, "lead"); len(got) != 1 {
		t.Errorf("%q", got)
	}
}

// TestAgeInSyslog: a collector of what is critical alone hears of the rise and of
// the end.
func TestAgeInSyslog(t *testing.T) {
	d := aging(t, func(a *snap.AlertSettings) {
		a.Mail.Server = ""
		a.Syslog = []snap.SyslogServer{{Name: "log", Server: "198.51.100.30", Port: 514, Transport: snap.SyslogUDP, Facility: 16, Classes: snap.EveryClass, Least: snap.Critical}}
	})
	d.set(snap.AlarmOnBypass, true)
	d.until(2 * vtime.Hour)
	d.set(snap.AlarmOnBypass, false)
	d.until(3 * vtime.Hour)
	if len(d.got) != 2 {
		t.Fatalf("%d messages", len(d.got))
	}
	rise, end := string(d.got[0].Text), string(d.got[1].Text)
	if !strings.HasPrefix(rise, "<130>1 ") || !strings.Contains(rise, `state="lasts"`) || !strings.HasSuffix(rise, "for 1h0m0s") {
		t.Errorf("the rise: %s", rise)
	}
	if !strings.HasPrefix(end, "<134>1 ") || !strings.Contains(end, `state="ends"`) {
		t.Errorf("the end: %s", end)
	}
}

// TestReceiversHearOfAge: SNMP receivers hear once of a warning that lasts, with its
// row, whether or not there is mail.
func TestReceiversHearOfAge(t *testing.T) {
	for _, server := range []string{"198.51.100.25", ""} {
		d := aging(t, func(a *snap.AlertSettings) {
			a.Mail.Server = server
			a.Receivers = []snap.Receiver{{Name: "central", To: netip.MustParseAddrPort("198.51.100.20:162"), Version: "v2c", Community: snap.NewSecret("rehearsal")}}
		})
		d.set(snap.AlarmOnBypass, true)
		d.Hear(snap.EventGroup, 2, true, "racks")
		var got []snap.Notification
		for d.now < 3*vtime.Hour {
			for range 2 { // the site goes through an instant again in which something was noted
				d.Due(d.now, d.ups, func(n snap.Notification) {
					if n.Kind == snap.NotifyRisen {
						got = append(got, n)
					}
				})
			}
			for _, p := range d.TakePosts() {
				d.Posted(d.now, p.ID, snap.Delivered, true, "")
			}
			d.now = max(d.now+1, min(d.Deadline(d.now), 3*vtime.Hour))
		}
		if len(got) != 2 || got[1].Alarm != snap.AlarmOnBypass || got[1].AlarmID == 0 || got[0].Event != snap.EventGroup || got[0].Row != 2 {
			t.Errorf("relay %q: %+v", server, got)
		}
	}
}

// TestEndOfAge: who gets only what is critical hears that a warning has lasted, and of
// its end, and of no other warning.
func TestEndOfAge(t *testing.T) {
	d := aging(t, func(a *snap.AlertSettings) {
		a.Receivers = []snap.Receiver{{Name: "night", To: netip.MustParseAddrPort("198.51.100.20:162"), Version: "v2c", AlertRule: snap.AlertRule{Least: snap.Critical.Rank()}}}
	})
	var got []snap.Notification
	until := func(at vtime.Tick) {
		for d.now < at {
			for range 2 {
				d.Due(d.now, d.ups, func(n snap.Notification) {
					if d.inForce.Alerting().Receivers[0].Wants(n) {
						got = append(got, n)
					}
				})
			}
			for _, p := range d.TakePosts() {
				d.Posted(d.now, p.ID, snap.Delivered, true, "")
			}
			d.now = max(d.now+1, min(d.Deadline(d.now), at))
		}
	}
	d.set(snap.AlarmOnBypass, true)
	until(3 * vtime.Hour)
	d.set(snap.AlarmFanFailure, true)
	until(3*vtime.Hour + vtime.Minute)
	d.set(snap.AlarmOnBypass, false)
	d.set(snap.AlarmFanFailure, false)
	until(4 * vtime.Hour)
	if len(got) != 2 || got[0].Kind != snap.NotifyRisen || got[1].Kind != snap.NotifyAlarmRemoved || got[1].Alarm != snap.AlarmOnBypass {
		t.Errorf("%+v", got)
	}
}
