package card

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// ring is a journal of which each part keeps so many.
func ring(events, system int) (*journal, *snap.Card) {
	c := &snap.Card{}
	c.Settings.SetUpkeep(snap.Upkeep{Events: events, System: system})
	return &journal{settings: &c.Settings}, c
}

// TestJournal: each is bounded by its setting, whatever comes into the other;
// numbers rise over both and never come again, newest last; what is lost is
// counted, and told the first time.
func TestJournal(t *testing.T) {
	j, c := ring(60, 50)
	told := map[string]uint32{}
	for i := range 2000 {
		if i%10 == 0 {
			j.event(vtime.Tick(i), fmt.Sprint("event ", i/10))
		} else {
			j.add(vtime.Tick(i), fmt.Sprint("sign-in ", i))
		}
		c.Journal, c.Lost = j.entries, j.lost()
		if len(j.entries) > 2*(60+50) {
			t.Fatalf("%d entries are held", len(j.entries))
		}
		events, lost := c.Entries(snap.JournalEvents)
		if have := i/10 + 1; len(events) != min(60, have) || int(lost) != have-len(events) {
			t.Fatalf("after %d events %d are kept and %d lost", have, len(events), lost)
		}
		for n, e := range events {
			if e.Text != fmt.Sprint("event ", int(lost)+n) || n > 0 && e.Seq <= events[n-1].Seq {
				t.Fatalf("event %d is %+v", n, e)
			}
		}
		if e := j.entries[len(j.entries)-1]; strings.Contains(e.Text, "is full") {
			told[e.Text] = e.Seq
		}
		both, gone := c.BothJournals()
		if system, more := c.Entries(snap.JournalSystem); len(both) != len(events)+len(system) || gone != lost+more || len(system) > 50 {
			t.Fatalf("%d entries in both, %d and %d in each", len(both), len(events), len(system))
		}
	}
	if len(told) != 2 {
		t.Errorf("told of loss: %v", told)
	}
	for text := range told {
		if !strings.Contains(text, "events is full: entry 1 is the first") && !strings.Contains(text, "system is full: entry 2 is the first") {
			t.Errorf("told: %s", text)
		}
	}
}

// TestJournalForReaders: what was handed out never changes, and may be read
// while the journal goes on (run with -race).
func TestJournalForReaders(t *testing.T) {
	j, _ := ring(60, 50)
	var readers sync.WaitGroup
	for i := range 1000 {
		j.put(vtime.Tick(i), snap.JournalKind(i%2), "entry")
		handed, copied := j.entries, slices.Clone(j.entries)
		if i%37 == 0 {
			readers.Go(func() {
				for range 3 {
					if !slices.Equal(handed, copied) {
						t.Error("an entry changed after it was handed out")
					}
				}
			})
		}
	}
	readers.Wait()
}

// TestSignInJournal: who, over which surface, and how it went; never what was
// typed.
func TestSignInJournal(t *testing.T) {
	b := newBench(snap.AddressFixed)
	b.card.SignIn(5, snap.Command{OK: true, By: snap.Actor{Surface: "ssh", User: "technician"}})
	b.card.SignIn(6, snap.Command{By: snap.Actor{Surface: "serial"}})
	entries := b.card.journal.entries
	got := entries[len(entries)-2:]
	at := snap.StampOf(time.Time{}) // the date of the bench
	want := []snap.JournalEntry{
		{Seq: got[0].Seq, Tick: 5, At: at + 5, Text: "sign-in accepted: technician, administrator (ssh)"},
		{Seq: got[0].Seq + 1, Tick: 6, At: at + 6, Text: "sign-in refused: serial"},
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %+v", got)
	}
}

// TestFactoryPassword: different for every seed and card, and the account opens
// with it.
func TestFactoryPassword(t *testing.T) {
	seen := map[string]bool{}
	for seed := range uint64(20) {
		for _, serial := range []string{"RT0001", "RT0002"} {
			seen[Password(seed, serial)] = true
		}
	}
	if len(seen) != 40 {
		t.Errorf("%d passwords of 40", len(seen))
	}
	b := newBench(snap.AddressFixed)
	var d snap.Device
	b.card.View(&d)
	if !d.Card.SignIn("technician", Password(1, "RT0001")) || d.Card.SignIn("technician", Password(1, "RT0002")) {
		t.Error("the account does not open with its own password alone")
	}
}
