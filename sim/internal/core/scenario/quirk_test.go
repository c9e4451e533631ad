package scenario

import (
	"slices"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/quirk"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// everyQuirk is the quirks of everything.toml, the first of which is off.
func everyQuirk() []snap.Quirk {
	objects := func() []string { return quirk.Of(snap.QuirkStale).DefaultObjects }
	return []snap.Quirk{
		{Kind: snap.QuirkScaledUp, Objects: []string{"upsBatteryVoltage", "upsOutputVoltage"}},
		{Kind: snap.QuirkUnlistedAlarms, Alarms: []snap.AlarmKind{snap.AlarmBatteryBad}},
		{Kind: snap.QuirkPaddedAlarms, Count: 4},
		{Kind: snap.QuirkConstant, Objects: []string{snap.ObjectRuntime}, Value: 99},
		{Kind: snap.QuirkTruncated, Percent: 12.5},
		{Kind: snap.QuirkSlowObjects, Delay: 20},
		{Kind: snap.QuirkStale, Objects: objects(), Lasts: vtime.Minute},
	}
}

// everyQuirkEntry is the timeline entries of everything.toml that set them.
func everyQuirkEntry() (entries []plan.Entry) {
	act := func(q snap.Quirk, on bool) {
		entries = append(entries, plan.Entry{At: 3 * vtime.Minute, Actions: []plan.Action{{Kind: plan.ActQuirk, Quirk: q, On: on}}})
	}
	for i, q := range everyQuirk() {
		act(q, i > 0)
	}
	act(snap.Quirk{}, false)
	return entries
}

// TestQuirksByName: every quirk can be had by its name alone, with the default
// settings of its entry, or asks for what has no default.
func TestQuirksByName(t *testing.T) {
	const head = "title = 'x'\nrun_for = '1h'\n[[card.quirk]]\nname = '"
	for _, e := range quirk.All() {
		p, err := Load("x.toml", []byte(head+e.Kind.String()+"'\n"), Options{})
		if asks := e.Alarms || e.Objects != quirk.NoObjects && len(e.DefaultObjects) == 0; asks {
			if err == nil {
				t.Errorf("%v: nothing was missed", e.Kind)
			}
			continue
		}
		if err != nil {
			t.Error(err)
			continue
		}
		if got := p.Card.Quirks; len(got) != 1 || got[0].Kind != e.Kind || got[0].Count != int(e.Count.Default) || got[0].Lasts != e.Lasts.Default || !slices.Equal(got[0].Objects, e.DefaultObjects) {
			t.Errorf("%v: %+v", e.Kind, got)
		}
	}
}

func TestQuirkFromTheBench(t *testing.T) {
	p, err := Load("x.toml", []byte("title = 'x'\nrun_for = '1h'\n"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	inject := Injector(p)
	e, err := inject(`quirk = { name = "too-big-above", count = 7 }`)
	if err != nil || len(e.Actions) != 1 || !e.Actions[0].On || e.Actions[0].Quirk.Count != 7 {
		t.Errorf("%+v, %v", e, err)
	}
	e, err = inject(`quirk = { name = "absent", off = true }`) // needs no objects to go
	if err != nil || len(e.Actions) != 1 || e.Actions[0].On || e.Actions[0].Quirk.Kind != snap.QuirkAbsent {
		t.Errorf("%+v, %v", e, err)
	}
	if _, err = inject(`quirk = { name = "too-big-abov" }`); err == nil || !strings.Contains(err.Error(), `did you mean "too-big-above"`) {
		t.Error(err)
	}
}
