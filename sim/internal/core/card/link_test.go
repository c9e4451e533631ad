package card_test

import (
	"fmt"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestLink: RFC 2863 linkDown and linkUp. While the lead is out nobody reaches the
// card and nothing leaves it; what happened meanwhile is told when it is in again,
// in order.
func TestLink(t *testing.T) {
	for name, src := range map[string]string{"fixed": fixed, "leased": site} {
		t.Run(name, func(t *testing.T) {
			r := playtest.Start(t, src).To(min).Inject(`link = "down"`)
			if c := r.Site.Card; !c.LinkDown || c.LinkSince != min || c.Address.Reachable() || c.Address.State != "no-link" {
				t.Errorf("lead out: %+v", c)
			}
			r.Inject(`link = "down"`).To(2 * min).Inject(`alarm = {raise = "fan_failure"}`).To(3 * min)
			if got := sent(r, min); len(got) != 0 {
				t.Errorf("left without a link: %v", got)
			}
			r.Inject(`link = "up"`).To(4 * min)
			if c := r.Site.Card; c.LinkDown || c.LinkSince != 3*min || !c.Address.Reachable() {
				t.Errorf("lead in: %+v", c)
			}
			compare(t, sent(r, 3*min), "0:00:00.000 link_down", "0:00:00.000 alarm_added fan_failure", "0:00:00.000 link_up")
		})
	}
}

// TestLinkFlaps: of a lead that goes in and out the last state is told last, and
// no kind within 5 s.
func TestLinkFlaps(t *testing.T) {
	r := playtest.Start(t, fixed).To(min)
	for i := range 8 {
		r.To(min + vtime.Tick(i)*sec/2).Inject(`link = "` + []string{"down", "up"}[i%2] + `"`)
	}
	r.To(2 * min)
	compare(t, sent(r, min), "0:00:00.500 link_down", "0:00:00.500 link_up", "0:00:05.500 link_down", "0:00:05.500 link_up")
}

// TestLinkOutAtTheStart: a card that boots without its lead asks for nothing, and
// has its address when the lead is in.
func TestLinkOutAtTheStart(t *testing.T) {
	r := playtest.Start(t, site).Inject(`link = "down"`).Ask(snap.OpRestart).To(2 * min)
	if c := r.Site.Card; c.State != snap.CardRunning || c.Address.State != "no-link" {
		t.Errorf("%+v", c)
	}
	r.Inject(`link = "up"`).To(3 * min)
	if c := r.Site.Card; c.Address.State != "leased" {
		t.Errorf("%+v", c)
	}
	compare(t, sent(r, 2*min), "0:00:00.000 warm_start", "0:00:00.000 link_up")
}

const rooms = fixed + `
[room]
[[probe]]
name = "inlet"
every = "1s"
lag = "0s"
noise_k = 0
high_warn_c = 30
[[group]]
name = "racks"
off_delay = "20s"
[[group]]
name = "desks"
on_delay = "3s"
[[group]]
name = "wall"
fed_by = "mains"
`

// TestOwnNotifications: each group and probe is told of, each no more often than
// once in 5 s with the last state last; of a group past the unit the card knows
// nothing.
func TestOwnNotifications(t *testing.T) {
	src := strings.Replace(rooms, "draw_w = 600", "draw_w = 600\ngroup = \"racks\"", 1)
	r := playtest.Start(t, src).To(min).Inject(`probe = {unplug = "inlet"}`).Inject(`output = "off"`)
	r.To(2 * min).Inject(`output = "on"`).Inject(`probe = {plug = "inlet"}`).To(3 * min).Inject(`source = "lost"`).To(4 * min)
	compare(t, own(r, min), "0:00:00.000 probe_alert 1", "0:00:00.000 group_switched 1 off", "0:00:00.000 group_switched 2 off",
		"0:01:00.000 group_switched 1 on", "0:01:01.000 probe_better 1", "0:01:03.000 group_switched 2 on")
	r = playtest.Start(t, strings.Replace(src, "boot_takes", "own_notifications = false\nboot_takes", 1)).To(min).Inject(`output = "off"`).To(2 * min)
	compare(t, own(r, min))
}

// TestOutletsAsTheCardKnowsThem: states with their delays, and unknown past the unit.
func TestOutletsAsTheCardKnowsThem(t *testing.T) {
	src := strings.Replace(rooms, "draw_w = 600", "draw_w = 600\ngroups = [\"racks\", \"wall\"]", 1)
	r := playtest.Start(t, src)
	states := func(want ...snap.GroupState) {
		t.Helper()
		for i, state := range want {
			if got := r.Site.Outlets.Group(i); got != state {
				t.Errorf("at %v group %d is %d, want %d", r.Engine.Now(), i, got, state)
			}
		}
	}
	states(snap.GroupOn, snap.GroupOn, snap.GroupUnknown)
	r.To(min).Write(snap.VarShutdownAfter, 60)
	states(snap.GroupTurningOff, snap.GroupOn, snap.GroupUnknown)
	r.To(min + 20*sec)
	states(snap.GroupOff, snap.GroupOn, snap.GroupUnknown)
	r.To(2 * min)
	states(snap.GroupOff, snap.GroupOff, snap.GroupUnknown)
	r.To(3*min).Write(snap.VarStartupAfter, 0)
	states(snap.GroupOn, snap.GroupTurningOn, snap.GroupUnknown)
	r.To(3*min + 3*sec)
	states(snap.GroupOn, snap.GroupOn, snap.GroupUnknown)
	if h := r.Site.Outlets.Roster.Hosts[0]; h.Name != "db" || h.Fed != "racks, wall" || h.Groups != 0b101 || h.Supplies != 2 {
		t.Errorf("%+v", h)
	}
}

// own is the notifications of our own module that left from one time on.
func own(r *playtest.Run, from vtime.Tick) []string {
	var lines []string
	for i, n := range r.Sent {
		if n.Row == 0 || r.SentAt[i] < from {
			continue
		}
		text := fmt.Sprintf("%v %v %d", r.SentAt[i]-from, n.Kind, n.Row)
		if n.Kind == snap.NotifyGroupSwitched {
			text += snap.Either(n.Live, " on", " off")
		}
		lines = append(lines, text)
	}
	return lines
}
