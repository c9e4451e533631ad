package card

import (
	"fmt"
	"math"
	"slices"

	"ridethrough/sim/internal/core/snap"
)

// journalLogs are the logs that hold the journals, by kind.
var journalLogs = [snap.JournalKinds]string{snap.JournalSystem: "system", snap.JournalEvents: "events"}

// stored is an entry of a journal in the memory, with its date: ticks count from
// another zero in the next session.
type stored struct {
	At    int64  `json:"at"` // milliseconds since 1970, by the card's clock
	Text  string `json:"text"`
	Count uint32 `json:"count"` // entries that its journal has had with this one
}

// since appends to logs what came into the journals after the entry told.
func (j *journal) since(logs []snap.LogKeep, told uint32) []snap.LogKeep {
	if told == j.seq {
		return logs
	}
	for k, name := range journalLogs {
		keep, count := snap.LogKeep{Name: name, From: uint64(j.seq) + 1}, j.count[k]-j.held[k]
		for _, e := range j.entries {
			if e.Kind != snap.JournalKind(k) {
				continue
			}
			count++
			keep.From = min(keep.From, uint64(e.Seq))
			if e.Seq > told {
				keep.Entries = append(keep.Entries, snap.LogEntry{Seq: uint64(e.Seq), Value: encode(stored{int64(e.At), e.Text, count})})
			}
		}
		if len(keep.Entries) > 0 || j.emptied {
			logs = append(logs, keep)
		}
	}
	j.emptied = false
	return logs
}

// recall takes up the journals of the life before. The dates of their entries may
// lie in the future: the site's clock begins anew with every session.
func (j *journal) recall(raw *snap.Memory) {
	for k, name := range journalLogs {
		for _, e := range raw.Logs[name] {
			var s stored
			if err := snap.DecodeStrict(e.Value, &s); err != nil {
				panic("card: memory that was not checked: " + err.Error())
			}
			j.seq = max(j.seq, uint32(e.Seq))
			j.count[k] = s.Count
			j.held[k]++
			j.entries = append(j.entries, snap.JournalEntry{Seq: uint32(e.Seq), Kind: snap.JournalKind(k), At: snap.Stamp(s.At), Text: s.Text})
		}
		j.count[k] = max(j.count[k], j.held[k])
		j.told[k] = j.count[k] > j.held[k] || j.count[k] > uint32(j.keeps(snap.JournalKind(k)))
	}
	slices.SortFunc(j.entries, func(a, b snap.JournalEntry) int { return int(int64(a.Seq) - int64(b.Seq)) })
}

// checkLogs says what is wrong with the logs of a memory.
func checkLogs(raw *snap.Memory) error {
	seen := map[uint64]bool{}
	for _, name := range journalLogs {
		if err := checkLog(name, raw.Logs[name], func() any { return new(stored) }); err != nil {
			return err
		}
		for _, e := range raw.Logs[name] {
			if seen[e.Seq] {
				return fmt.Errorf("journal: two entries have the number %d", e.Seq)
			}
			seen[e.Seq] = true
		}
	}
	return checkLog(dataLogName, raw.Logs[dataLogName], func() any { return new(snap.Sample) })
}

// checkLog says what is wrong with a log whose entries are of the kind of fresh.
func checkLog(name string, log []snap.LogEntry, fresh func() any) error {
	last := uint64(0)
	for _, e := range log {
		if err := snap.DecodeStrict(e.Value, fresh()); err != nil {
			return fmt.Errorf("log %s: entry %d: %w", name, e.Seq, err)
		}
		if e.Seq <= last || e.Seq > math.MaxUint32-2*snap.MostLost {
			return fmt.Errorf("log %s: entry %d follows entry %d", name, e.Seq, last)
		}
		last = e.Seq
	}
	return nil
}
