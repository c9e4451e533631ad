package card

import (
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestJournal: bounded, numbered without gaps, newest last.
func TestJournal(t *testing.T) {
	var j journal
	for i := range 10 * journalKeeps {
		j.add(vtime.Tick(i), fmt.Sprint(i))
		if n := len(j.entries); n > 2*journalKeeps || i >= journalKeeps && n < journalKeeps {
			t.Fatalf("%d entries after %d", n, i+1)
		}
		for k, e := range j.entries {
			if want := int(j.seq) - len(j.entries) + k + 1; int(e.Seq) != want || e.Text != fmt.Sprint(want-1) {
				t.Fatalf("entry %d of %d: %+v", k, len(j.entries), e)
			}
		}
	}
}

// TestJournalForReaders: what was handed out never changes, and may be read
// while the journal goes on (run with -race).
func TestJournalForReaders(t *testing.T) {
	var j journal
	var readers sync.WaitGroup
	for i := range 5 * journalKeeps {
		j.add(vtime.Tick(i), "entry")
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
