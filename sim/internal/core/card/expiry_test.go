package card

import (
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// ends is so many days after the start of a desk.
func ends(days int) snap.Stamp {
	return snap.StampOf(time.Date(2026, 3, 2, 7, 55, 0, 0, time.UTC)) + snap.Stamp(days)*snap.Stamp(aDay)
}

func (d *desk) warnings() (n int) {
	for _, p := range d.got {
		if p.Event == snap.EventExpiry {
			n++
		}
	}
	return n
}

// TestExpiry: once a day from so many days before, for what the settings still have,
// and over restarts.
func TestExpiry(t *testing.T) {
	d := newDesk(t, nil, func(a *snap.AlertSettings) { a.Mail.Security = snap.MailTLS })
	if d.Shown(0, snap.KeySyslog("log"), ends(1)) {
		t.Error("a collector that is not set has shown something")
	}
	if !d.Shown(0, snap.KeyMail, ends(32)) {
		t.Fatal("the relay is not known")
	}
	for _, row := range []struct {
		at   vtime.Tick
		want int
	}{{2*aDay - 1, 0}, {2 * aDay, 1}, {3*aDay - 1, 1}, {3 * aDay, 2}, {10 * aDay, 9}} {
		if d.until(row.at); d.warnings() != row.want {
			t.Errorf("%v: %d warnings, want %d", row.at, d.warnings(), row.want)
		}
	}
	last := d.got[len(d.got)-1].Letter
	if !strings.Contains(last.Body, "certificate of the mail relay 198.51.100.25:25 ends 2026-04-03, 22 days from now") {
		t.Errorf("%s", last.Body)
	}
	d.Restart(d.now)
	d.until(d.now + vtime.Hour)
	if d.warnings() != 10 {
		t.Errorf("%d warnings after a restart, want one more", d.warnings())
	}
	d.Shown(d.now, snap.KeyMail, ends(400))
	if d.until(40 * aDay); d.warnings() != 10 {
		t.Errorf("%d warnings after the certificate was renewed", d.warnings())
	}
	d.Shown(d.now, snap.KeyMail, ends(41))
	to := d.Saved().Clone()
	to.Alerts.Mail.Server = "198.51.100.26"
	if r := d.Save(d.now, snap.Actor{}, *to, 0); r.Status != snap.Done {
		t.Fatal(r)
	}
	if d.until(45 * aDay); d.warnings() != 10 {
		t.Errorf("%d warnings of a relay that is not asked any more", d.warnings())
	}
}

// TestExpiryNot: no warning where it is off, and none by a clock that was never set.
func TestExpiryNot(t *testing.T) {
	d := newDesk(t, nil, func(a *snap.AlertSettings) { a.Mail.Security, a.ExpiryDays = snap.MailTLS, 0 })
	d.Shown(0, snap.KeyMail, ends(2))
	if d.until(5 * aDay); d.warnings() != 0 {
		t.Errorf("%d warnings while it is off", d.warnings())
	}
	d = newDesk(t, nil, func(a *snap.AlertSettings) { a.Mail.Security = snap.MailTLS })
	d.clock.Set = false
	d.Shown(0, snap.KeyMail, ends(2))
	if d.until(5 * aDay); d.warnings() != 0 {
		t.Errorf("%d warnings by a clock that was never set", d.warnings())
	}
}

// TestBatteryLife: the battery's planned life, by the date of its replacement.
func TestBatteryLife(t *testing.T) {
	d := newDesk(t, nil, func(*snap.AlertSettings) {})
	to := d.Saved().Clone()
	u := to.Upkept()
	u.Life, u.Replaced = 4, "2022-04-02"
	to.SetUpkeep(u)
	if r := d.Save(0, snap.Actor{}, *to, 0); r.Status != snap.Done {
		t.Fatal(r)
	}
	// Thirty days before 2026-04-02T00:00Z is 2026-03-03T00:00Z, 16 h 5 min after the start.
	due := 16*vtime.Hour + 5*vtime.Minute
	if d.until(due - 1); d.warnings() != 0 {
		t.Error("too early")
	}
	if d.until(due); d.warnings() != 1 {
		t.Error("not warned of the battery")
	}
	if list := d.terms(); len(list) != 1 || !strings.Contains(list[0].What, "battery of 2022-04-02") {
		t.Errorf("%+v", list)
	}
}
