package setting

import (
	"errors"
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Bounds of the settings of outlet groups: ours.
const (
	longestDelay = 24 * vtime.Hour
	longestOff   = vtime.Hour
	// highestPct leaves room for a battery that never shows 100 % again.
	highestPct = 95
)

const (
	dropsLoad = "it can take a group off its supply, now if the unit is on battery. Stop what hangs on it first."
	keepsOff  = "what is off stays off until then, however urgently somebody needs it; at the unit itself it can be switched on at once."
)

func init() {
	declare(Shutdown,
		atOnce(cautioned(keepsOff, percent("shutdown.restart-charge", "charge to restart at",
			"After an outage the output stays off until the battery has this charge again, so that another outage finds enough of it for an orderly stop.",
			func(s *snap.Settings, _ int) *uint8 { return &s.Restart.Pct }))),
		atOnce(moment("shutdown.restart-off", "shortest time off",
			"Once off, the output stays off for at least this long, so that every machine sees that its power went. Common practice is 10s to 30s.",
			0, longestOff, -1, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Restart.Off })),
		outletGroups(),
	)
	together = append(together, controlPathHolds)
}

func cautioned(why string, x *Setting) *Setting { x.Caution = why; return x }

// outletGroups is the list of the unit's outlet groups.
func outletGroups() *List {
	l := list("shutdown.group", "outlet group",
		"Outlets that are switched together. The unit goes by these settings itself, also while the card restarts.", snap.MaxGroups,
		func(s *snap.Settings) *[]snap.OutletGroup { return &s.Groups },
		func(g *snap.OutletGroup) *string { return &g.Name },
		func() snap.OutletGroup { return snap.FreshGroup("") },
		text("label", "name for people", "What it is called on site, such as the rack it feeds.", 63,
			func(s *snap.Settings, i int) *string { return &s.Groups[i].Label }),
		cautioned("whoever switches a group goes by it: prove it by the step of the group's load when one host is stopped at a time.",
			text("hosts", "hosts believed to be on it", "Names of the hosts on it, with commas. The card cannot see them: it repeats this list before it switches.",
				displayString, func(s *snap.Settings, i int) *string { return &s.Groups[i].Hosts })),
		cautioned("orders to stop no longer reach the others once it is off.",
			yesNo("control-path", "feeds the control path", "It feeds what orders travel over, such as the switch: it is first on and last off, and no other delay may say otherwise.",
				func(s *snap.Settings, i int) *bool { return &s.Groups[i].ControlPath })),
		moment("on-delay", "on after", "From the output coming on to the group coming on. Gaps between groups keep inrush apart.",
			0, vtime.Hour, -1, func(s *snap.Settings, i int) *vtime.Tick { return &s.Groups[i].OnDelay }),
		cautioned(dropsLoad, moment("off-delay", "off after", "From the start of a shutdown countdown to the group going off; none: together with the output.",
			0, longestDelay, vtime.Never, func(s *snap.Settings, i int) *vtime.Tick { return &s.Groups[i].OffDelay })),
		cautioned(dropsLoad, moment("shed-after", "shed after", "Goes off when the unit has been on battery for this long, until the mains are back.",
			vtime.Second, longestDelay, vtime.Never, func(s *snap.Settings, i int) *vtime.Tick { return &s.Groups[i].ShedAfter })),
		cautioned(dropsLoad, moment("shed-runtime", "shed below runtime", "Goes off when the unit is on battery and its estimate of the runtime is less, until the mains are back.",
			vtime.Second, longestDelay, 0, func(s *snap.Settings, i int) *vtime.Tick { return &s.Groups[i].ShedRuntime })),
		cautioned(dropsLoad, percent("shed-charge", "shed below charge", "Goes off when the unit is on battery and has less charge, until the mains are back.",
			func(s *snap.Settings, i int) *uint8 { return &s.Groups[i].ShedPct })),
		cautioned(keepsOff, percent("min-charge", "charge to come on at", "Does not come on below this charge.",
			func(s *snap.Settings, i int) *uint8 { return &s.Groups[i].MinPct })),
		moment("min-off", "shortest time off", "Once off it stays off for at least this long.",
			0, longestOff, -1, func(s *snap.Settings, i int) *vtime.Tick { return &s.Groups[i].MinOff }),
	)
	l.AtOnce = true
	l.Fixed = "the groups are those of the unit"
	return l
}

// percent is a charge from 1 to [highestPct], or none, which is 0.
func percent(path, label, help string, at func(*snap.Settings, int) *uint8) *Setting {
	x := whole(path, label, help, "%", 0, highestPct, at)
	x.Takes = fmt.Sprintf("a whole number from 1 to %d %%", highestPct)
	return orNone(x, "none", func(s *snap.Settings, i int) bool { return *at(s, i) == 0 })
}

// controlPathHolds: the control path is first on and last off.
func controlPathHolds(s *snap.Settings) error {
	if why := snap.ControlPathBroken(s.Groups); why != "" {
		return errors.New("shutdown.group." + why)
	}
	return nil
}
