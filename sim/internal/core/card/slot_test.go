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

// TestUnseated: a card whose contacts do not meet is dark and silent with the unit on,
// however it came to that, until it is pressed home; nothing else wakes it.
func TestUnseated(t *testing.T) {
	for name, before := range map[string]string{"pushed in": `card = "remove"`, "works loose": `note = "it runs"`, "while it starts": `card = "restart"`} {
		r := playtest.Start(t, fixed).To(min).Inject(before).To(min + 10*sec).Inject(`card = "unseat"`).To(2 * min)
		for _, act := range []string{`card = "restart"`, `card = "hang"`, `ups_link = "up"`, `card = "unseat"`} {
			r.Inject(act)
		}
		boots := r.Site.Card.Boots
		r.To(10 * min)
		if c := r.Site.Card; c.State != snap.CardOff || c.Address.Reachable() || !r.Site.UPS.OutputOn || c.Boots != boots {
			t.Errorf("%s: %+v", name, c)
		}
		for _, l := range r.Site.Lamps(10 * min) {
			if l.Pattern != snap.Dark {
				t.Errorf("%s: lamp %s is %s", name, l.Name, l.Pattern)
			}
		}
		r.Inject(`card = "insert"`).To(10*min + 75*sec)
		if c := r.Site.Card; c.State != snap.CardRunning || c.Boots != boots+1 || r.Site.Hosts[0].Cuts != 0 {
			t.Errorf("%s, pressed home: %+v", name, c)
		}
		r.Inject(`card = "unseat"`).Inject(`card = "remove"`).Inject(`card = "insert"`).To(15 * min)
		if r.Site.Card.State != snap.CardRunning {
			t.Errorf("%s: pulled out and put in it is %s", name, r.Site.Card.State)
		}
	}
}

// TestUnitSpeed: without the unit's speed there is no contact, at the start and after a
// lead that was mended; set right there is, from the next start on and at once.
func TestUnitSpeed(t *testing.T) {
	with := func(keys string) *playtest.Run {
		return playtest.Start(t, strings.Replace(fixed, "boot_takes", "ups_link_takes = \"40s\"\nups_link_speed = 9600\n"+keys+"\nboot_takes", 1))
	}
	set := func(r *playtest.Run, speed string) *playtest.Run {
		return r.Inject(`settings = { "upkeep.unit-speed" = "` + speed + `" }`)
	}
	r := with(`ups_link_found = false`).To(min)
	if seen := r.Site.Seen(); !seen.Card.UnitLost || !seen.Card.UnitBlank || !seen.Alarms.Has(snap.AlarmCommunicationsLost) || !strings.Contains(journalText(r), "it answers at none of the speeds that were tried") {
		t.Errorf("not found: %+v\n%s", seen.Card, journalText(r))
	}
	if r.Inject(`ups_link = "lost"`).Inject(`ups_link = "up"`).To(2 * min); !r.Site.Card.UnitLost {
		t.Error("the lead is mended, not the speed")
	}
	if set(r, "9600").To(3 * min); !r.Site.Card.UnitLost {
		t.Error("in force before the restart")
	}
	if r.Inject(`card = "restart"`).To(4*min + 15*sec + 1); r.Site.Card.UnitLost || r.Site.Card.State != snap.CardRunning {
		t.Errorf("set right: %+v", r.Site.Card.State)
	}
	if set(r, "19200").Inject(`card = "restart"`).To(10 * min); !r.Site.Card.UnitLost || !strings.Contains(journalText(r), "it does not answer at 19200 bit/s") {
		t.Errorf("set wrong:\n%s", journalText(r))
	}
	r = with(``).Inject(`card = "restart"`).To(75*sec + 39*sec)
	if !r.Site.Card.UnitLost {
		t.Error("found in no time")
	}
	if r.To(75*sec + 40*sec); r.Site.Card.UnitLost {
		t.Error("not found in its time")
	}
}
