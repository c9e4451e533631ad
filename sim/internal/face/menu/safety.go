package menu

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/model"
)

// The cautions of docs/safety.md, where an action could hurt in real life. They
// end with who decides.
const (
	decides = "Local codes, the maker's instructions, the rules of the site and the licensed person\non it decide, not this text.\n"

	cautionOff = "CAUTION\nThis takes the power from what hangs on the unit. Alarms, cooling and other plant that\npeople depend on may be among it; nothing is told to stop first. Outlets that are off\nare not safe to work on: prove dead.\n"
	cautionOn  = "CAUTION\nThis makes outlets live. Somebody may be working on what they feed: have them clear it\nand take remote switching away from the unit while work goes on.\n"

	cautionTest        = "CAUTION\nThe test loads the battery. If it fails, or the mains fail meanwhile, the load may be\nlost. Not in a storm or during works, and not below 90 % charge.\n"
	cautionCalibration = "CAUTION\nThe calibration discharges the battery: for hours afterwards an outage finds little in\nit. Agree on a window, have backups, know how long the load needs to stop. Not in a\nstorm or during works, and not below 90 % charge.\n"
	cautionBattery     = "CAUTION\nOnly after all packs were replaced by qualified people: the unit forgets what it knew of\nthe old ones, and promises what it cannot keep if they are still there. The voltage of a\nstring can kill and cannot be switched off.\n"
	cautionRestart     = "CAUTION\nWith it on, the output comes back by itself after an outage: whoever works on what it\nfeeds must not rely on it being dead. With it off, nothing comes back until somebody\nswitches it on.\n"
	cautionLow         = "CAUTION\nThis moves the moment at which low battery is reported. Software that stops hosts by it\nneeds that time: with less of it hosts may lose their power while they stop.\n"
	cautionSilent      = "CAUTION\nPeople at the unit will hear nothing when the load is about to be lost.\n"
)

// cautionAny is for what switches the output and says nothing of its own.
const cautionAny = "CAUTION\nThis may change what is live, or load the battery.\n"

// warns is what has to be said before a is done, "" if nothing: its own caution. An
// act that changes what is live is never without one.
func (a *action) warns(v View, given []string) (text string) {
	if a.caution != nil {
		text = a.caution(v, given)
	}
	if text != "" || slices.ContainsFunc(a.ask, func(q question) bool { return q.hidden }) {
		return text // what takes a secret switches nothing, and hashing that takes time
	}
	if c := a.command(v, given); switches(&c) {
		return withLoad(v, cautionAny)
	}
	return ""
}

// word is what has to be typed after a caution.
func (a *action) word() string { return cmp.Or(a.confirm, "yes") }

// switches says whether c may change what is live, or loads the battery.
func switches(c *snap.Command) bool {
	return c.Op == snap.OpSwitch || slices.ContainsFunc(c.Sets, func(a snap.Assignment) bool {
		switch a.Var {
		case snap.VarShutdownAfter, snap.VarStartupAfter, snap.VarReboot:
			return a.Int >= 0
		case snap.VarTestID:
			return a.Int != int64(snap.TestAbort)
		case snap.VarAutoRestart, snap.VarLowBattTime:
			return true
		}
		return false
	})
}

// withLoad is a caution with what the unit gives at present, and who decides.
func withLoad(v View, caution string) string {
	load := model.Lookup("upsOutputPower")
	var watts []string
	for i := range v.Dev.Output.Count {
		watts = append(watts, load.RowText(v.Dev, v.Now, i))
	}
	if len(watts) > 0 {
		caution += fmt.Sprintf("The unit gives %s now.\n", strings.Join(watts, ", "))
	}
	return caution + fed(v) + decides
}

// fed names what hangs on live outlets, as the card was told.
func fed(v View) string {
	r := v.Dev.Outlets.Roster
	if r == nil {
		return ""
	}
	var names []string
	for i := range r.Hosts {
		if h := &r.Hosts[i]; h.Groups&v.Dev.Outlets.Live != 0 {
			names = append(names, printable(h.Name))
		}
	}
	const most = 12
	if len(names) > most {
		names = append(names[:most], fmt.Sprintf("and %d more", len(names)-most))
	}
	if len(names) == 0 {
		return ""
	}
	return "On live outlets, as the card was told: " + strings.Join(names, ", ") + ".\n"
}
