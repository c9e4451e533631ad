package card

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// TestForgetfulCard: a start empties both journals, says how much is lost and counts it;
// the numbers go on, a host that keeps them is told, and another life knows nothing more.
// A card that is not forgetful keeps all.
func TestForgetfulCard(t *testing.T) {
	for _, forgets := range []bool{false, true} {
		m := &snap.Memory{}
		cfg := config(m)
		cfg.Like().Forgets = forgets
		c := New(cfg, &plan.Network{}, 1, date, unheard)
		c.Start()
		c.journal.event(5, "alarm on_battery raised")
		lay(m, c.Keep())
		last := c.journal.seq
		c.Restart(10)
		c.begin(c.runningAt, 0)
		texts, lost := textsOf(c), c.journal.lost()
		if gone := !strings.Contains(texts, "on_battery"); gone != forgets || (lost[snap.JournalEvents] == 1) != forgets {
			t.Errorf("forgets %v: lost %v\n%s", forgets, lost, texts)
		}
		if says := strings.Contains(texts, "do not outlive a restart: 3 entries are lost, up to number "); says != forgets || c.journal.entries[len(c.journal.entries)-1].Seq <= last {
			t.Errorf("forgets %v\n%s", forgets, texts)
		}
		if lay(m, c.Keep()); len(m.Logs[journalLogs[snap.JournalEvents]]) == 0 != forgets {
			t.Errorf("forgets %v: the host keeps %+v", forgets, m.Logs)
		}
		if err := CheckMemory(m, "RT0001"); err != nil {
			t.Fatal(err)
		}
		again := New(cfg, &plan.Network{}, 1, date, unheard)
		again.Start()
		if texts := textsOf(again); strings.Contains(texts, "on_battery") == forgets || again.journal.seq <= c.journal.seq {
			t.Errorf("forgets %v, another life:\n%s", forgets, texts)
		}
	}
}

// TestForgetfulJournalFills: it is full again only when it holds as much again.
func TestForgetfulJournalFills(t *testing.T) {
	j, _ := ring(60, 50)
	for range 55 {
		j.event(0, "e")
	}
	if lost := j.wipe(); lost != 55 || len(j.entries) != 0 {
		t.Fatalf("lost %d, %d left", lost, len(j.entries))
	}
	for i := range 61 {
		j.event(0, "e")
		if full := len(j.entries) > i+1; full != (i == 60) {
			t.Errorf("entry %d: full %v", i+1, full)
		}
	}
	if lost := j.lost(); lost[snap.JournalEvents] != 55 {
		t.Errorf("lost %v", lost)
	}
}

func textsOf(c *Card) string {
	var b strings.Builder
	for _, e := range c.journal.entries {
		b.WriteString(e.Text + "\n")
	}
	return b.String()
}
