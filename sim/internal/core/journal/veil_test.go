package journal_test

import (
	"encoding/json"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/journal"
	"ridethrough/sim/internal/core/snap"
)

func TestVeil(t *testing.T) {
	var v journal.Veil
	v.Leave("derived")
	for _, c := range []struct{ secret, want string }{
		{"look", "(hidden 1)"}, {"touch", "(hidden 2)"}, {"look", "(hidden 1)"}, {"", ""}, {"derived", "derived"},
	} {
		if got := v.Name(c.secret); got != c.want {
			t.Errorf("%q became %q, want %q", c.secret, got, c.want)
		}
	}
	saved := &snap.Settings{Name: "card", ReadCommunity: snap.NewSecret("touch"), WriteCommunity: snap.NewSecret("third")}
	got := v.Entry(engine.Entry{Tick: 3, Command: snap.Command{Op: snap.OpSave, Settings: saved}})
	text, err := json.Marshal(got.Command.Settings)
	if s := string(text); err != nil || !strings.Contains(s, `"ReadCommunity":"(hidden 2)"`) || !strings.Contains(s, `"WriteCommunity":"(hidden 3)"`) || got.Tick != 3 {
		t.Errorf("%s, %v", s, err)
	}
	if saved.ReadCommunity.Reveal() != "touch" {
		t.Error("what the card saves was changed")
	}
}
