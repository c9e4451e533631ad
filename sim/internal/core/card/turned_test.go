package card_test

import (
	"fmt"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
)

// TestTurnedAway: of what the access list turns away the journal has a line for each
// source and minute, and how many more there were; of many sources a few.
func TestTurnedAway(t *testing.T) {
	r := playtest.Start(t, fixed)
	away := func(service, from string, n int) {
		r.Do(snap.Command{Op: snap.OpTurnAway, Text: service, Code: n, By: snap.Actor{Surface: "gate", Peer: from}})
	}
	count := func(text string) int { return strings.Count(journalText(r), text) }
	away("snmp", "192.0.2.99", 1)
	away("snmp", "192.0.2.99", 40)
	away("ssh", "192.0.2.99", 1)
	r.To(30 * sec)
	away("snmp", "192.0.2.99", 2)
	if count("access list turns away snmp from 192.0.2.99") != 1 || count("access list turns away ssh from 192.0.2.99") != 1 || count("more within") != 0 {
		t.Error(journalText(r))
	}
	r.To(2 * min)
	if count("turns away snmp from 192.0.2.99: 42 more within a minute") != 1 || count("more within") != 1 {
		t.Error(journalText(r))
	}
	away("snmp", "192.0.2.99", 1)
	if count("turns away snmp from 192.0.2.99") != 3 {
		t.Error(journalText(r))
	}
	r.To(4 * min)
	for i := range 200 {
		away("snmp", fmt.Sprintf("198.51.100.%d", i), 3)
	}
	r.To(6 * min)
	if n := count("198.51.100."); n != 32 { // a line each at the beginning and the end
		t.Errorf("%d lines of one flood", n)
	}
	if count("turns away snmp from others") != 2 || count("turns away snmp from others: 551 more") != 1 { // 184 sources, 3 each
		t.Error(journalText(r))
	}
}
