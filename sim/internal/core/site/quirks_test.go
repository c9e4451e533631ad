package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// quirk is a timeline entry.
func quirk(settings string) string { return "quirk = { " + settings + " }" }

// TestPolicySeesQuirks: the modelled policy reads what an agent would tell it. The
// mains go at 1:05 and stay away; it stops after a minute on battery unless a quirk
// hides that, or sooner if it is taken in.
func TestPolicySeesQuirks(t *testing.T) {
	for name, row := range map[string]struct {
		policy, quirk string
		stops         vtime.Tick
	}{
		"none":              {`on_battery_for = "60s"`, "", 2*min + 10*sec},
		"frozen":            {`on_battery_for = "60s"`, quirk(`name = "frozen"`), vtime.Never},
		"elsewhere":         {`on_battery_for = "60s"`, quirk(`name = "frozen", objects = ["upsBatteryVoltage"]`), 2*min + 10*sec},
		"stale":             {`on_battery_for = "60s"`, quirk(`name = "stale", lasts = "40s"`), 2*min + 50*sec},
		"unknown":           {`on_battery_for = "60s"`, quirk(`name = "unknown-code"`), vtime.Never},
		"other source":      {`on_battery_for = "60s"`, quirk(`name = "unknown-code", value = 4`), vtime.Never},
		"absent source":     {`on_battery_for = "60s"`, quirk(`name = "absent", objects = ["upsOutputSource"]`), vtime.Never},
		"absent runtime":    {`runtime_below = "10h"`, quirk(`name = "absent", objects = ["upsEstimatedMinutesRemaining"]`), vtime.Never},
		"runtime":           {`runtime_below = "10h"`, "", min + 10*sec},
		"zero":              {`runtime_below = "10h"`, quirk(`name = "runtime-zero"`), vtime.Never},
		"zero accepted":     {"runtime_below = \"1m\"\nbelieve = { invalid = \"accept\" }", quirk(`name = "runtime-zero"`), min + 10*sec},
		"charge":            {`charge_below_pct = 50`, quirk(`name = "scaled-down", objects = ["upsEstimatedChargeRemaining"]`), min + 10*sec},
		"charge distrusted": {"charge_below_pct = 50\nbelieve = { jumps = \"distrust\" }", quirk(`name = "scaled-down", objects = ["upsEstimatedChargeRemaining"]`), vtime.Never},
		"charge beyond":     {`charge_below_pct = 50`, quirk(`name = "constant", objects = ["upsEstimatedChargeRemaining"], value = -1`), vtime.Never},
		"low":               {`on_low_battery = true`, quirk(`name = "unknown-code", objects = ["upsBatteryStatus"], value = 3`), min + 10*sec},
		"code above low":    {`on_low_battery = true`, quirk(`name = "unknown-code", objects = ["upsBatteryStatus"]`), vtime.Never},
		"hung":              {`on_battery_for = "60s"`, quirk(`name = "hung"`), vtime.Never},
		"all lost":          {`on_battery_for = "60s"`, quirk(`name = "lossy", percent = 100`), vtime.Never},
	} {
		t.Run(name, func(t *testing.T) {
			r := playtest.Start(t, managed+row.policy).To(min)
			if row.quirk != "" {
				r.Inject(row.quirk)
			}
			r.To(min + 5*sec).Inject(lost).To(5 * min)
			if got := reached(r, "stopping"); got != row.stops {
				t.Errorf("stopping at %v, want %v\n%s", got, row.stops, r.Trace())
			}
			if acted := strings.Contains(r.Trace(), " acted"); acted != (row.quirk != "" && name != "elsewhere") {
				t.Errorf("a quirk acted: %v\n%s", acted, r.Trace())
			}
		})
	}
}

// TestHalfAwake: after a restart the policy keeps what it knew; told to take the
// unknown for mains it starts to count anew.
func TestHalfAwake(t *testing.T) {
	for believe, want := range map[string]vtime.Tick{"keep": 3*min + 10*sec, "mains": 5 * min} {
		src := strings.Replace(managed, "[ups]", "boot_takes = \"20s\"\n[[card.quirk]]\nname = \"half-awake\"\n[ups]", 1) +
			"on_battery_for = \"2m\"\nbelieve = { unknown = \"" + believe + "\" }\n"
		r := playtest.Start(t, src).To(min + 5*sec).Inject(lost).To(2 * min).Ask(snap.OpRestart).To(10 * min)
		if got := reached(r, "stopping"); got != want {
			t.Errorf("%s: stopping at %v, want %v\n%s", believe, got, want, r.Trace())
		}
	}
}

// TestLossyPolls: which polls are lost is drawn from the seed.
func TestLossyPolls(t *testing.T) {
	play := func(seed string) string {
		src := "seed = " + seed + managed + "on_battery_for = \"1h\"\n"
		return playtest.Start(t, src).Inject(quirk(`name = "lossy", percent = 50`)).To(30 * min).Trace()
	}
	one, again, other := play("1"), play("1"), play("2")
	if one != again {
		t.Error("one seed, two runs")
	}
	if one[strings.Index(one, "\n"):] == other[strings.Index(other, "\n"):] {
		t.Error("two seeds, one run")
	}
}

// TestStaleStatesAreBounded: what is stale by an hour is not kept for every second.
func TestStaleStatesAreBounded(t *testing.T) {
	r := playtest.Start(t, managed+"on_battery_for = \"1h\"\n").Inject(quirk(`name = "stale", lasts = "1h"`)).To(2 * vtime.Hour)
	held := r.Site.Card.Quirks.Of(snap.QuirkStale).Held
	if age := r.Engine.Now() - held.Tick; age < vtime.Hour || age > vtime.Hour+min {
		t.Errorf("the card shows what was true %v ago", age)
	}
	if held.Card.Quirks != nil {
		t.Error("what is held holds what was held before")
	}
	r.Inject(quirk(`name = "stale", off = true`)).To(3 * vtime.Hour)
	if r.Site.Card.Quirks != nil {
		t.Error("there are quirks left")
	}
}
