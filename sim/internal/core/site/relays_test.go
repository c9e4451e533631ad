package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// relayed is the pair of probes with two relays that report EACH, one with current
// on alarm and one with current at rest.
func relayed(t *testing.T, each string) *playtest.Run {
	set := strings.NewReplacer("EACH", each).Replace(`
[card.settings]
"surroundings.relay.up.output" = "1"
"surroundings.relay.up.on" = "EACH"
"surroundings.relay.down.output" = "3"
"surroundings.relay.down.on" = "EACH"
"surroundings.relay.down.sense" = "at-rest"
`)
	return playtest.Start(t, pair+set)
}

// contacts are the two relays: 1 is closed.
func contacts(r *playtest.Run) string {
	text := ""
	for _, i := range []int{1, 3} {
		text += snap.Either(r.Site.Card.Relay(i).Closed, "1", "0")
	}
	return text
}

// TestRelaysFollow: each condition moves both relays, and its end moves them back.
func TestRelaysFollow(t *testing.T) {
	for each, row := range map[string]struct{ on, off string }{
		"on-battery":          {`source = "lost"`, `source = "normal"`},
		"input":               {`source = "lost"`, `source = "normal"`},
		"fault":               {`alarm = { raise = "fuse_failure" }`, `alarm = { clear = "fuse_failure" }`},
		"fault,probe":         {`alarm = { raise = "fan_failure" }`, `alarm = { clear = "fan_failure" }`},
		"low-battery,contact": {`contact = { name = "leak", is = "closed" }`, `contact = { name = "leak", is = "open" }`},
		"probe":               {`probe = { unplug = "exhaust" }`, `probe = { plug = "exhaust" }`},
		"no-contact":          {`ups_link = "lost"`, `ups_link = "up"`},
		"overload":            {`alarm = { raise = "output_overload" }`, `alarm = { clear = "output_overload" }`},
		"bypass":              {`alarm = { raise = "on_bypass" }`, `alarm = { clear = "on_bypass" }`},
		"shutdown":            {`alarm = { raise = "shutdown_pending" }`, `alarm = { clear = "shutdown_pending" }`},
		"output-off":          {`alarm = { raise = "ups_output_off" }`, `alarm = { clear = "ups_output_off" }`},
	} {
		t.Run(each, func(t *testing.T) {
			r := relayed(t, each).To(vtime.Minute)
			if got := contacts(r); got != "01" {
				t.Fatalf("at rest %s", got)
			}
			if r.Inject(row.on).To(2 * vtime.Minute); contacts(r) != "10" {
				t.Errorf("it reports: %s", contacts(r))
			}
			if r.Inject(row.off).To(4 * vtime.Minute); contacts(r) != "01" {
				t.Errorf("at rest again: %s", contacts(r))
			}
		})
	}
}

// TestRelaysAndTheCard: while the card starts, and without it, no coil has current; a
// card that hangs leaves them as they were.
func TestRelaysAndTheCard(t *testing.T) {
	r := relayed(t, "on-battery").To(vtime.Minute).Inject(`source = "lost"`).To(vtime.Minute + vtime.Second)
	if r.Inject(`card = "restart"`); r.Site.Card.State != snap.CardBooting || contacts(r) != "00" {
		t.Errorf("while it boots: %s", contacts(r))
	}
	if r.To(3 * vtime.Minute); contacts(r) != "10" {
		t.Errorf("after that: %s", contacts(r))
	}
	if r.Inject(`card = "hang"`).Inject(`source = "normal"`).To(3*vtime.Minute + 30*vtime.Second); r.Site.Card.State != snap.CardHung || contacts(r) != "10" {
		t.Errorf("while it hangs: %s", contacts(r))
	}
	if r.To(6 * vtime.Minute); contacts(r) != "01" {
		t.Errorf("after the watchdog: %s", contacts(r))
	}
	if r.Inject(`card = "remove"`); contacts(r) != "00" {
		t.Errorf("without the card: %s", contacts(r))
	}
}

func tellRelay(r *playtest.Run, name, what string) snap.Result {
	return r.Do(snap.Command{Op: snap.OpRelay, By: snap.Actor{Surface: "ssh", User: "x", Role: snap.Operator}, Group: name, Text: what})
}

// TestRelayOrders: a test lasts ten seconds, manual until it is switched off or the
// card restarts; both only where they make sense, and not for viewers.
func TestRelayOrders(t *testing.T) {
	r := relayed(t, "manual").To(vtime.Minute)
	if res := tellRelay(r, "up", "test"); res.Status != snap.Done || contacts(r) != "11" || !r.Site.Card.Relay(1).Testing {
		t.Errorf("%+v, %s", res, contacts(r))
	}
	if r.To(vtime.Minute + 9*vtime.Second); contacts(r) != "11" {
		t.Errorf("nine seconds: %s", contacts(r))
	}
	if r.To(vtime.Minute + snap.RelayTest); contacts(r) != "01" || r.Site.Card.Relay(1).Turns != 2 {
		t.Errorf("ten seconds: %s, %+v", contacts(r), r.Site.Card.Relay(1))
	}
	if res := tellRelay(r, "down", "on"); res.Status != snap.Done || contacts(r) != "00" {
		t.Errorf("%+v, %s", res, contacts(r))
	}
	if res := tellRelay(r, "down", "off"); res.Status != snap.Done || contacts(r) != "01" {
		t.Errorf("%+v, %s", res, contacts(r))
	}
	tellRelay(r, "up", "on")
	if r.Ask(snap.OpRestart).To(4 * vtime.Minute); contacts(r) != "01" {
		t.Errorf("after a restart: %s", contacts(r))
	}
	if res := tellRelay(r, "other", "test"); res.Status != snap.WrongValue {
		t.Errorf("no such relay: %+v", res)
	}
	if res := r.Do(snap.Command{Op: snap.OpRelay, By: snap.Actor{Surface: "ssh", User: "x", Role: snap.Viewer}, Group: "up", Text: "test"}); res.Status != snap.Denied {
		t.Errorf("a viewer: %+v", res)
	}
	keep(t, r, put("surroundings.relay.up.on", "fault"))
	if res := tellRelay(r, "up", "on"); res.Status != snap.Inconsistent {
		t.Errorf("manual is not among it: %+v", res)
	}
}

// TestRelaySettings: one output for each; one that is taken out of the settings drops.
func TestRelaySettings(t *testing.T) {
	r := relayed(t, "manual").To(vtime.Minute)
	if res := keep(t, r, put("surroundings.relay.down.output", "1")); res.Status != snap.WrongValue || !strings.Contains(res.Reason, "output 1 is that of up already") {
		t.Errorf("%+v", res)
	}
	res := keep(t, r, func(s *snap.Settings) error {
		s.Relays = s.Relays[:1]
		return nil
	})
	if res.Status != snap.Done || contacts(r) != "00" || r.Site.Card.Relay(3).Name != "" {
		t.Errorf("%+v, %s, %+v", res, contacts(r), r.Site.Card.Relay(3))
	}
}
