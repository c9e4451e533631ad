package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const pingSite = `
title = "who answers"
seed = 1
run_for = "1h"
[card]
address = "192.0.2.10/24"
gateway = "192.0.2.1"
[network]
router = "192.0.2.1"
taken = ["192.0.2.66"]
[[peer]]
name = "office"
address = "198.51.100.20/24"
[[group]]
name = "past"
fed_by = "mains"
[[host]]
name = "relay"
group = "past"
draw_w = 100
[[server]]
name = "relay"
kind = "mail"
address = "192.0.2.25"
host = "relay"
[[time_server]]
name = "ntp"
address = "192.0.2.123"
group = "past"
[[at]]
time = "10m"
source = "lost"
[[at]]
time = "20m"
network = { router = "absent" }
`

// TestPing: what runs answers, what has lost its power does not, and of an address that
// the scenario gives to no machine the card does not claim that somebody answers.
func TestPing(t *testing.T) {
	r := playtest.Start(t, pingSite)
	at := func(to vtime.Tick, want map[string]string) {
		r.To(to)
		for addr, part := range want {
			got := r.Do(snap.Command{Op: snap.OpPing, Text: addr, By: snap.Actor{Surface: "ssh", Role: snap.Administrator}})
			if !strings.Contains(got.Reason, addr+": "+part) && !strings.Contains(got.Reason, "198.51.100.20: "+part) {
				t.Errorf("%s at %s: %+v, want %s", addr, to, got, part)
			}
			if got.Status != snap.Done || got.Amiss != !strings.HasPrefix(part, "answers") {
				t.Errorf("%s at %s: %+v", addr, to, got)
			}
		}
	}
	at(vtime.Minute, map[string]string{
		"192.0.2.1": "answers", "192.0.2.10": "answers", "192.0.2.66": "answers", "192.0.2.25": "answers", "192.0.2.123": "answers", "office": "answers",
		"192.0.2.77": "packets pass there and back, but", "203.0.113.9": "packets pass there and back, but", "2001:db8::1": "the card has no IPv6 address: reach.ipv6 is off",
	})
	at(11*vtime.Minute, map[string]string{"192.0.2.25": "no answer", "192.0.2.123": "no answer", "office": "answers"})
	at(21*vtime.Minute, map[string]string{"192.0.2.1": "no answer", "office": "it is not in the card's own network, and nobody answers at the address of the gateway"})
}

// TestNobodyToTry: a test message to everybody, where there is nobody.
func TestNobodyToTry(t *testing.T) {
	got := playtest.Start(t, pingSite).To(vtime.Minute).Do(snap.Command{Op: snap.OpTry, By: snap.Actor{Surface: "ssh", Role: snap.Administrator}})
	if got.Status != snap.WrongValue || !strings.HasPrefix(got.Reason, "there is nobody to try") {
		t.Errorf("%+v", got)
	}
}
