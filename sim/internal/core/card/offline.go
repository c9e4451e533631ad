package card

import (
	"encoding/json"
	"errors"
	"math"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// What may be done to the memory of a card that nobody serves. It must have passed
// [CheckMemory].

// SettingsIn are the settings in a memory. The error says why there are none.
func SettingsIn(raw *snap.Memory) (*snap.Settings, error) {
	text := raw.Sections["settings"]
	if text == nil {
		return nil, errors.New("its settings are the factory's until it is served again")
	}
	s := new(snap.Settings)
	err := unpack(text, &s)
	return s, err
}

// AccountsIn are the accounts in raw; known is false where they are the factory's until
// the card is served again, and nobody has changed one.
func AccountsIn(raw *snap.Memory) (list []snap.Account, known bool, err error) {
	text := raw.Sections["accounts"]
	if text == nil {
		return nil, false, nil
	}
	err = unpack(text, &list)
	return list, err == nil, err
}

// PutSettings is what puts s in the place of the settings in raw. The error says
// why they cannot be there.
func PutSettings(raw *snap.Memory, s *snap.Settings) (*snap.Keep, error) {
	before, err := SettingsIn(raw)
	if err == nil {
		err = setting.Check(before, s)
	}
	if err != nil {
		return nil, err
	}
	return &snap.Keep{
		Sections: map[string]json.RawMessage{"settings": packSettings(s)},
		Logs:     []snap.LogKeep{noted(raw, "settings imported while the card was not served")},
	}, nil
}

// ResetMemory is what takes raw back to the factory's state, as far as level goes.
func ResetMemory(raw *snap.Memory, level Level) *snap.Keep {
	k := &snap.Keep{Sections: map[string]json.RawMessage{}}
	for _, name := range Dropped(level) {
		k.Sections[name] = nil
	}
	k.Logs = append(k.Logs, noted(raw, "reset of "+level.String()+" to the factory's state while the card was not served"))
	if level == ResetAll {
		k.Logs[0].From = k.Logs[0].Entries[0].Seq
		k.Logs = append(k.Logs, emptied(raw, journalLogs[snap.JournalEvents]), emptied(raw, dataLogName))
		k.Sections["data-numbers"] = encode(uint32(lastOf(raw, dataLogName)))
	}
	return k
}

// noted is an entry more in the journal of the card. It has the date of the last
// one: what the card's clock shows nobody knows.
func noted(raw *snap.Memory, text string) snap.LogKeep {
	name := journalLogs[snap.JournalSystem]
	s := stored{Text: text, Count: 1}
	if log := raw.Logs[name]; len(log) > 0 {
		var last stored
		if snap.DecodeStrict(log[len(log)-1].Value, &last) == nil {
			s.At, s.Count = last.At, max(last.Count, uint32(len(log)))+1
		}
	}
	seq := min(max(lastOf(raw, name), lastOf(raw, journalLogs[snap.JournalEvents]))+1, math.MaxUint32)
	return snap.LogKeep{Name: name, Entries: []snap.LogEntry{{Seq: seq, Value: encode(s)}}}
}

// emptied takes all entries out of a log.
func emptied(raw *snap.Memory, name string) snap.LogKeep {
	return snap.LogKeep{Name: name, From: lastOf(raw, name) + 1}
}

// lastOf is the number of the last entry of a log, 0 if it has none.
func lastOf(raw *snap.Memory, name string) uint64 {
	if log := raw.Logs[name]; len(log) > 0 {
		return log[len(log)-1].Seq
	}
	return 0
}
