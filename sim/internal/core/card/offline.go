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
	return s, unpack(text, s)
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
		Sections: map[string]json.RawMessage{"settings": pack(s)},
		Logs:     []snap.LogKeep{noted(raw, "settings imported while the card was not served", false)},
	}, nil
}

// ResetMemory is what takes raw back to the factory's state, as far as level goes.
func ResetMemory(raw *snap.Memory, level Level) *snap.Keep {
	k := &snap.Keep{Sections: map[string]json.RawMessage{}}
	for _, name := range Dropped(level) {
		k.Sections[name] = nil
	}
	k.Logs = append(k.Logs, noted(raw, "reset of "+level.String()+" to the factory's state while the card was not served", level == ResetAll))
	return k
}

// noted is an entry more in the journal, or one in place of all. It has the date
// of the last one: what the card's clock shows nobody knows.
func noted(raw *snap.Memory, text string, alone bool) snap.LogKeep {
	log := raw.Logs[journalLog]
	seq, at := uint64(1), int64(0)
	if n := len(log); n > 0 {
		var last stored
		if snap.DecodeStrict(log[n-1].Value, &last) == nil {
			at = last.At
		}
		seq = log[n-1].Seq + 1
	}
	k := snap.LogKeep{Name: journalLog, Entries: []snap.LogEntry{{Seq: min(seq, math.MaxUint32), Value: encode(stored{at, text})}}}
	if alone {
		k.From = seq
	}
	return k
}
