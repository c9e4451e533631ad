package card_test

import (
	"net/netip"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
)

const bound = `
title = "bound"
run_for = "2h"
[card]
boot_takes = "10s"
receivers = [{ to = "198.51.100.20:162" }, { to = "198.51.100.21:162" }]
[network]
offer = "192.0.2.10/24"
lease = "1h"
[[peer]]
name = "bound"
address = "198.51.100.20/24"
[[peer]]
name = "free"
address = "198.51.100.21/24"
[[host]]
name = "db"
draw_w = 300
`

// TestBoundReceiver: what is bound to an address leaves while the card has it, and from no
// other; the other receiver gets everything. The journal and who tries it are told.
func TestBoundReceiver(t *testing.T) {
	r := playtest.Start(t, bound).To(sec)
	save := func(source string) snap.Result {
		s := r.Site.Card.Saved.Clone()
		s.Alerts = s.Alerts.Clone()
		s.Alerts.Receivers[0].Source = netip.MustParseAddr(source)
		return r.Do(snap.Command{Op: snap.OpSave, Settings: s, By: snap.Actor{Surface: "serial", Role: snap.Administrator}})
	}
	if res := save("192.0.2.99"); res.Status != snap.WrongValue || !strings.Contains(res.Reason, "alerts.receivers.receiver-1.source: the card does not have 192.0.2.99: it has 192.0.2.10; type one") {
		t.Errorf("%+v", res)
	}
	if res := save("192.0.2.10"); res.Status != snap.Done {
		t.Errorf("%+v", res)
	}
	heard := func() [2]int { return [2]int{r.Site.Net.Peers[0].Heard, r.Site.Net.Peers[1].Heard} }
	before := heard()
	outage := func() {
		r.Inject(`source = { volts = 0, lasts = "20s" }`)
		r.To(r.Engine.Now() + 50*sec)
	}
	if outage(); heard()[0] == before[0] || heard()[0]-before[0] != heard()[1]-before[1] {
		t.Errorf("from %v to %v", before, heard())
	}
	r.Inject(`network = { offer = "192.0.2.77/24" }`)
	r.Inject(`card = "restart"`)
	r.To(r.Engine.Now() + min)
	before = heard()
	if outage(); heard()[0] != before[0] || heard()[1] == before[1] {
		t.Errorf("without the address from %v to %v", before, heard())
	}
	const line = "nothing leaves for receiver receiver-1: the card does not have 192.0.2.10, it has 192.0.2.77"
	if n := inJournal(r, line); n != 1 {
		t.Errorf("%d times in the journal", n)
	}
	r.Do(snap.Command{Op: snap.OpTry, Text: "receiver-1", By: snap.Actor{Surface: "serial", Role: snap.Administrator}})
	if n := inJournal(r, line); n != 2 {
		t.Errorf("%d times in the journal once somebody has tried", n)
	}
	if s := save("192.0.2.10"); s.Status != snap.Done { // what was saved before may stay
		t.Errorf("%+v", s)
	}
	r.Inject(`network = { offer = "192.0.2.10/24" }`)
	r.Inject(`card = "restart"`)
	r.To(r.Engine.Now() + min)
	before = heard()
	if outage(); heard()[0] == before[0] || r.Count("to receiver-1 from 192.0.2.10") == 0 {
		t.Errorf("with the address again from %v to %v", before, heard())
	}
}

// TestSecondAddress: the card has it as long as it is of the network of the first and nobody
// else has it, and what is bound to it leaves that long.
func TestSecondAddress(t *testing.T) {
	r := playtest.Start(t, strings.Replace(bound, "[network]\n", "[card.settings]\n\"reach.second-address\" = \"192.0.2.11\"\n\"alerts.receivers.receiver-1.source\" = \"192.0.2.11\"\n[network]\n", 1)).To(sec)
	lasts := func(want string, leaves bool) {
		t.Helper()
		before := r.Site.Net.Peers[0].Heard
		r.Inject(`source = { volts = 0, lasts = "20s" }`)
		r.To(r.Engine.Now() + 50*sec)
		if got := r.Site.Card.Address.All(); got != want || (r.Site.Net.Peers[0].Heard > before) != leaves {
			t.Errorf("it has %s and heard %d after %d, want %s, %v", got, r.Site.Net.Peers[0].Heard, before, want, leaves)
		}
	}
	again := func(change string) {
		t.Helper()
		r.Inject(change)
		r.Inject(`card = "restart"`)
		r.To(r.Engine.Now() + min)
	}
	lasts("192.0.2.10, 192.0.2.11", true)
	again(`network = { offer = "198.51.100.77/24" }`)
	lasts("198.51.100.77", false)
	again(`network = { offer = "192.0.2.77/24" }`)
	lasts("192.0.2.77, 192.0.2.11", true)
	again(`network = { claim = "192.0.2.11" }`)
	lasts("192.0.2.77", false)
}

func inJournal(r *playtest.Run, text string) (n int) {
	list, _ := r.Site.Card.Entries(snap.JournalSystem)
	for _, e := range list {
		if strings.Contains(e.Text, text) {
			n++
		}
	}
	return n
}
