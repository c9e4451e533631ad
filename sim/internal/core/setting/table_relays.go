package setting

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

func init() {
	declare(Surroundings, relayList())
	together = append(together, relaysHold)
}

const stopsMachines = "machines that are wired to it stop, or no longer stop, by it. Test it afterwards with the wire's other end in view."

func relayList() *List {
	of := func(s *snap.Settings, i int) *snap.RelaySetting { return &s.Relays[i] }
	l := list("surroundings.relay", "relay output", "Relay outputs of the card, and what each reports.", snap.MaxRelays,
		func(s *snap.Settings) *[]snap.RelaySetting { return &s.Relays },
		func(r *snap.RelaySetting) *string { return &r.Name },
		func() snap.RelaySetting { return snap.RelaySetting{Output: 1, Sense: snap.SenseAlarm} },
		cautioned(stopsMachines, whole[int]("output", "output", "Which of the card's relay outputs it is.", "", 1, snap.MaxRelays,
			func(s *snap.Settings, i int) *int { return &of(s, i).Output })),
		cautioned(stopsMachines, relayFunctions(func(s *snap.Settings, i int) *snap.RelaySet { return &of(s, i).When })),
		cautioned(stopsMachines, choice("sense", "coil has current", "on-alarm: while it reports something, so that a dead card reports nothing. at-rest: while it reports nothing, so that a card that is dead or starts looks like an alarm.",
			[]snap.RelaySense{snap.SenseAlarm, snap.SenseRest}, func(s *snap.Settings, i int) *snap.RelaySense { return &of(s, i).Sense })),
	)
	l.AtOnce = true
	return l
}

func relayFunctions(at func(*snap.Settings, int) *snap.RelaySet) *Setting {
	words := strings.Join(snap.RelayFunctionWords(), ", ")
	return &Setting{
		Path: "on", Label: "reports", Help: "What it reports: any of these is enough. A new relay reports nothing.",
		Takes: "none, or words with commas between them: " + words,
		get:   func(s *snap.Settings, i int) string { return at(s, i).String() },
		set: func(s *snap.Settings, i int, v string) error {
			set, wrong := snap.RelaySetOf(strings.ToLower(v))
			if wrong != "" || set == 0 && !strings.EqualFold(strings.TrimSpace(v), "none") {
				return fmt.Errorf("%q: expected none, or some of %s", wrong, words)
			}
			*at(s, i) = set
			return nil
		},
	}
}

func relaysHold(s *snap.Settings) error {
	seen := map[int]string{}
	for i := range s.Relays {
		r := &s.Relays[i]
		if other, twice := seen[r.Output]; twice {
			return fmt.Errorf("surroundings.relay.%s.output: output %d is that of %s already", r.Name, r.Output, other)
		}
		seen[r.Output] = r.Name
	}
	return nil
}
