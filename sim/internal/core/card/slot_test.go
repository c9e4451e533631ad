package card_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
)

// TestHotInsertion: the output does not notice that the card comes and goes; the
// inserted card boots and starts anew (field row 1).
func TestHotInsertion(t *testing.T) {
	r := playtest.Start(t, fixed).To(min).Inject(`card = "remove"`).To(2 * min)
	if c := r.Site.Card; c.State != snap.CardAbsent || c.Address.Reachable() || !r.Site.UPS.OutputOn {
		t.Errorf("pulled out: %+v", c)
	}
	r.Inject(`card = "restart"`).Inject(`card = "hang"`).Inject(`card = "remove"`).To(3 * min)
	if r.Site.Card.State != snap.CardAbsent {
		t.Error("a card that is not there came to life")
	}
	r.Inject(`card = "insert"`).To(3*min + 74*sec)
	if c := r.Site.Card; c.State != snap.CardBooting {
		t.Errorf("put in: %+v", c)
	}
	r.To(3*min + 75*sec)
	if c := r.Site.Card; c.State != snap.CardRunning || c.Boots != 2 || r.Site.Hosts[0].Cuts != 0 {
		t.Errorf("booted: %+v", c)
	}
	if n := r.Count("group outlets"); n != 0 {
		t.Errorf("%d lines about the outlets:\n%s", n, r.Trace())
	}
}

// TestCardPower: the card has supply while the unit has, whether or not the output
// is on; an outage to the end of the battery takes it too.
func TestCardPower(t *testing.T) {
	r := playtest.Start(t, fixed).To(min).Inject(`output = "off"`).To(5 * min)
	if r.Site.UPS.OutputOn || r.Site.Card.State != snap.CardRunning {
		t.Errorf("output off: %v", r.Site.Card.State)
	}
}

// TestWatchdog: a card that hangs is silent until its watchdog restarts it; one
// without stays so until somebody does.
func TestWatchdog(t *testing.T) {
	r := playtest.Start(t, fixed).To(min).Inject(`card = "hang"`).To(min + 59*sec)
	if c := r.Site.Card; c.State != snap.CardHung || r.Site.Lamps(r.Engine.Now())[0].Pattern != snap.Steady {
		t.Errorf("%+v", c)
	}
	r.To(2 * min)
	if c := r.Site.Card; c.State != snap.CardBooting {
		t.Errorf("%v after the watchdog's time", c.State)
	}
	r.To(4 * min)
	if c := r.Site.Card; c.State != snap.CardRunning || !strings.Contains(journalText(r), "the watchdog found the card hanging") {
		t.Errorf("%v\n%s", c.State, journalText(r))
	}
	r = playtest.Start(t, strings.Replace(fixed, "boot_takes", "watchdog = \"none\"\nboot_takes", 1)).Inject(`card = "hang"`).To(120 * min)
	if r.Site.Card.State != snap.CardHung {
		t.Error("restarted without a watchdog")
	}
	r.Inject(`card = "restart"`).To(123 * min)
	if r.Site.Card.State != snap.CardRunning {
		t.Error("cannot be restarted by hand")
	}
}

func journalText(r *playtest.Run) string {
	var lines []string
	for _, e := range r.Site.Card.Journal {
		lines = append(lines, e.Text)
	}
	return strings.Join(lines, "\n")
}

// TestStages: a start goes through all stages, each with its lamp.
func TestStages(t *testing.T) {
	r := playtest.Start(t, fixed).Inject(`card = "restart"`)
	seen := []string{}
	for at := 0 * sec; at <= 80*sec; at += sec {
		r.To(at)
		text := r.Site.Card.Stage(at).String() + " " + r.Site.Lamps(at)[0].Pattern.String()
		if len(seen) == 0 || seen[len(seen)-1] != text {
			seen = append(seen, text)
		}
	}
	compare(t, seen, "checking fast", "loading slow", "services slow", " beat")
}

// TestUnitLost: without contact to the unit the card tells so, keeps to what it
// read last, and takes no order for the unit (field row 3).
func TestUnitLost(t *testing.T) {
	r := playtest.Start(t, fixed).To(min).Inject(`ups_link = "lost"`).To(2 * min).Inject(`source = "lost"`).To(3 * min)
	seen := r.Site.Seen()
	if seen.UPS.Source != snap.SourceNormal || r.Site.UPS.Source != snap.SourceBattery || !seen.Alarms.Has(snap.AlarmCommunicationsLost) || seen.Alarms.Has(snap.AlarmOnBattery) {
		t.Errorf("shown %v, alarms %+v", seen.UPS.Source, seen.Alarms.Rows[:seen.Alarms.Count])
	}
	if got := seen.Lamps(3 * min)[1].Pattern; got != snap.Slow {
		t.Errorf("lamp of the UPS: %v", got)
	}
	if res := r.Set(snap.Assignment{Var: snap.VarShutdownAfter, Int: 30}); res.Status != snap.Busy {
		t.Errorf("an order reached the unit: %+v", res)
	}
	compare(t, sent(r, min), "0:00:00.000 alarm_added communications_lost")
	r.Inject(`ups_link = "up"`).To(3*min + 30*sec)
	if seen = r.Site.Seen(); seen.UPS.Source != snap.SourceBattery || seen.Alarms.Has(snap.AlarmCommunicationsLost) {
		t.Errorf("shown %v", seen.UPS.Source)
	}
	compare(t, sent(r, 3*min), "0:00:00.000 alarm_removed communications_lost", "0:00:00.000 alarm_added input_bad", "0:00:00.000 on_battery")
}

// TestUnitNeverSeen: a card that starts without contact has nothing to show, as set
// or not; one that is set so shows nothing either.
func TestUnitNeverSeen(t *testing.T) {
	r := playtest.Start(t, fixed).Inject(`ups_link = "lost"`).Inject(`card = "restart"`).To(5 * min)
	if seen := r.Site.Seen(); !seen.Card.UnitBlank || seen.UPS.Source != snap.SourceOther || seen.Input.Count != 0 || !seen.Alarms.Has(snap.AlarmCommunicationsLost) {
		t.Errorf("%+v", seen.UPS)
	}
	src := strings.Replace(fixed, "boot_takes", "ups_link_takes = \"20s\"\nboot_takes", 1)
	r = playtest.Start(t, src).To(min).Inject(`card = "restart"`).To(min + 85*sec)
	if !r.Site.Card.UnitLost || !r.Site.Card.UnitBlank {
		t.Error("contact at once after the start")
	}
	r.To(min + 95*sec)
	if r.Site.Card.UnitLost || r.Site.Alarms.Count != 0 {
		t.Errorf("no contact 20 s after the start: %d alarms", r.Site.Alarms.Count)
	}
	s := r.Site.Card.Saved
	if err := s.ChangeLinks(func(l *snap.LinkSettings) error { l.NoContact = snap.ContactBlank; return nil }); err != nil {
		t.Fatal(err)
	}
	if res := r.Do(snap.Command{Op: snap.OpSave, Settings: &s}); res.Status != snap.Done {
		t.Fatal(res.Reason)
	}
	if r.Inject(`ups_link = "lost"`).To(5 * min); !r.Site.Card.UnitBlank {
		t.Error("not blank as set")
	}
}
