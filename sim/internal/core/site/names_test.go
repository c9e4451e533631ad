package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const namesDie = `
title = "names die with the mains"
run_for = "2h"
[card]
address = "192.0.2.10/24"
boot_takes = "10s"
LOOKUPS
receivers = [{ to = "198.51.100.60:162" }]
[card.settings]
"reach.names-kept" = "KEPT"
[card.alerts]
confirm = "5s"
mail = { server = "WHERE", from = "ups@site.example" }
recipient = [{ name = "oncall", address = "oncall@site.example", classes = "power", least = "critical" }]
[[group]]
name = "racks"
[[group]]
name = "wall"
fed_by = "mains"
[[server]]
name = "relay"
kind = "mail"
address = "198.51.100.25"
dns_name = "relay.example"
[[server]]
name = "names"
kind = "names"
address = "198.51.100.53"
needs_groups = ["wall"]
`

// TestMailWithoutNames: the mail about the outage arrives within six seconds of it,
// although nobody tells addresses any more, where the card has an address or keeps the
// one from before; else when the mains are back. A restart forgets.
func TestMailWithoutNames(t *testing.T) {
	const in = 6 * vtime.Second
	for _, x := range []struct {
		name, where, kept string
		restart           bool
		arrives           bool
	}{
		{"by address", "198.51.100.25", "none", false, true},
		{"kept", "relay.example", "24h", false, true},
		{"asked each time", "relay.example", "none", false, false},
		{"kept too short", "relay.example", "1m", false, false},
		{"forgotten", "relay.example", "24h", true, false},
	} {
		src := strings.NewReplacer("LOOKUPS", "", "KEPT", x.kept, "WHERE", x.where).Replace(namesDie)
		r := playtest.Start(t, src).To(min).Inject(`try = "oncall"`).To(2 * min)
		if x.restart {
			r.Inject(`card = "restart"`)
		}
		delivered := func() int { return r.Site.Posted().To["mail/oncall"].Delivered }
		r.To(10 * min).Inject(`source = { volts = 0, lasts = "10m" }`).To(10*min + in)
		if got := delivered(); got != map[bool]int{true: 2, false: 1}[x.arrives] {
			t.Errorf("%s: %d mails after %s:\n%s", x.name, got, in, r.Trace())
		}
		if r.To(26 * min); delivered() < 2 {
			t.Errorf("%s: %d mails in the end", x.name, delivered())
		}
	}
}

// TestWaitsForAName: a card that does nothing else meanwhile sends notifications when
// the lookup is over, one that has other work done beside at once.
func TestWaitsForAName(t *testing.T) {
	for lookups, want := range map[string]vtime.Tick{`lookups = "blocking"`: 10*min + 15*sec, `lookups = "beside"`: 10*min + 8*sec} {
		src := strings.NewReplacer("LOOKUPS", lookups, "KEPT", "none", "WHERE", "relay.example").Replace(namesDie)
		r := playtest.Start(t, src).To(10 * min).Inject(`source = { volts = 0, lasts = "10m" }`).To(10*min + 8*sec)
		before := r.Site.Sent[snap.NotifyAlarmAdded]
		r.Inject(`alarm = { raise = "fan_failure" }`).To(want - 1)
		if lookups == `lookups = "blocking"` && r.Site.Sent[snap.NotifyAlarmAdded] != before {
			t.Errorf("%s: sent before %s", lookups, want)
		}
		if r.To(want + 1); r.Site.Sent[snap.NotifyAlarmAdded] != before+1 {
			t.Errorf("%s: not sent at %s:\n%s", lookups, want, r.Trace())
		}
	}
}
