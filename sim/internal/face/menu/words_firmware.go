package menu

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/image"
	"ridethrough/sim/internal/core/snap"
)

func init() {
	register(word{name: "firmware", brief: "the two slots for the card's firmware; switch to the other one, or return", part: partUpkeep,
		detail: `firmware shows what is in the slots. An image goes into the slot that does not run, over SSH:
ssh CARD firmware load < IMAGE. firmware switch restarts the card into it; if it does not pass its
own test the card goes back by itself. firmware return restarts the card into what ran before.
Export the settings first, and compare afterwards: settings, sign-in, readings, notifications.`,
		check: firmwares,
		read:  firmware, data: firmwareData,
		acts: []verb{{"switch", &firmwareSwitch}, {"return", &firmwareReturn}}})
}

const loadHint = "An image comes over SSH: ssh CARD firmware load < IMAGE\n"

func slotsOf(v View) *snap.Firmware {
	if f := v.Dev.Card.Firmware; f != nil {
		return f
	}
	return snap.FirstFirmware()
}

// version is that of the firmware in slot i.
func version(v View, f *snap.Firmware, i int) string {
	s := &f.Slots[i]
	if i == f.Running {
		return v.Dev.Card.Identity.Firmware
	}
	return s.Version(v.Dev.Card.Identity.First)
}

// slotWords say what a slot's state means.
func slotWords(f *snap.Firmware, i int) string {
	switch s := f.Slots[i].State; {
	case i == f.Running:
		return "runs"
	case s == snap.SlotNew:
		return "has never run"
	case s == snap.SlotGood:
		return "ran before"
	case s == snap.SlotFailed:
		return "failed its own test"
	}
	return "empty"
}

// firmwares is why there is nothing to read of args.
func firmwares(_ View, args []string) error {
	if len(args) > 0 && !strings.EqualFold(args[0], "load") {
		return fmt.Errorf("firmware takes one of load, switch, return, or nothing; not %q", args[0])
	}
	return nil
}

func firmware(v View, args []string) string {
	if len(args) > 0 {
		return loadHint
	}
	f := slotsOf(v)
	rows := [][]string{{"slot", "state", "version", "SHA-256 of the image"}}
	for i := range f.Slots {
		s := &f.Slots[i]
		digest := s.Digest
		if s.State != snap.SlotEmpty && digest == "" {
			digest = "(came with the card)"
		}
		rows = append(rows, []string{snap.SlotName(i), slotWords(f, i), version(v, f, i), digest})
	}
	text := table(rows)
	for i := range f.Slots {
		if r := f.Slots[i].Release; r != nil && r.Note != "" {
			text += fmt.Sprintf("  %s: %s\n", r.Version, r.Note)
		}
	}
	if u := v.Dev.Card.Upload; u != nil {
		text += fmt.Sprintf("  An image of %s is on its way.\n", u.Version)
	}
	return text
}

type slotDatum struct {
	Slot    string `json:"slot"`
	State   string `json:"state"`
	Version string `json:"version,omitempty"`
	SHA256  string `json:"sha256,omitempty"`
	Note    string `json:"note,omitempty"`
}

func firmwareData(v View, _ []string) any {
	f := slotsOf(v)
	var list []slotDatum
	for i := range f.Slots {
		d := slotDatum{Slot: snap.SlotName(i), State: slotWords(f, i), SHA256: f.Slots[i].Digest}
		if f.Slots[i].State != snap.SlotEmpty {
			d.Version = version(v, f, i)
		}
		if r := f.Slots[i].Release; r != nil {
			d.Note = r.Note
		}
		list = append(list, d)
	}
	return map[string]any{"running": snap.SlotName(f.Running), "slots": list, "images_taken": f.Loads, "images_refused": f.Refusals, "returns": f.Returns}
}

// firmwareSwitch goes to what has never run, firmwareReturn to what ran before.
var (
	firmwareSwitch = action{
		bars:    func(v View, _ []string) string { return slotsOf(v).NotTo(false) },
		caution: func(v View, _ []string) string { return firmwareCaution(v, false) },
		confirm: "switch",
		command: func(View, []string) snap.Command { return snap.Command{Op: snap.OpFirmwareSwitch} },
		done: func(View, []string) string {
			return "The card restarts into the other slot now. Look at firmware when it is back.\n"
		},
		closes: true,
	}
	firmwareReturn = action{
		bars:    func(v View, _ []string) string { return slotsOf(v).NotTo(true) },
		caution: func(v View, _ []string) string { return firmwareCaution(v, true) },
		confirm: "return",
		command: func(View, []string) snap.Command { return snap.Command{Op: snap.OpFirmwareReturn} },
		done:    func(View, []string) string { return "The card restarts into what ran before now.\n" },
		closes:  true,
	}
)

// lowCharge is the charge in percent below which the caution speaks of it: that below
// which no battery test is begun either (common practice).
const lowCharge = 90

func firmwareCaution(v View, back bool) string {
	d := v.Dev
	text := "CAUTION: change firmware in an agreed window only: never while a storm is about, while the charge\nis low, or on bypass. Until the card is back nobody is told of an outage.\n"
	for _, x := range []struct {
		is   bool
		says string
	}{
		{d.UPS.Source == snap.SourceBattery, "The unit runs on its battery now: do not."},
		{d.UPS.Source == snap.SourceBypass, "The unit is on bypass now, and the load unprotected: do not."},
		{d.Battery.ChargePct < lowCharge, fmt.Sprintf("The charge is %.0f %% only: wait.", d.Battery.ChargePct)},
		{countdowns(v) != "", "A countdown of the unit runs, and may be lost: do not."},
		{d.Alarms.Count > 0, "Alarms are present: " + alarmNames(d) + "."},
	} {
		if x.is {
			text += x.says + "\n"
		}
	}
	if back {
		text += "Settings stay as they are now: what the firmware has changed, import brings back.\n"
	} else {
		text += "Export the settings first. It may change settings, sign-in and the scale of readings.\n"
	}
	return text + restartNotice + decides
}

// loadsImage says whether args are those of firmware load.
func loadsImage(args []string) bool {
	w, ok := find(args[0])
	return ok && w.name == "firmware" && len(args) > 1 && strings.EqualFold(args[1], "load")
}

// load checks an image and has it put into the spare slot. What is refused the card
// is told of too.
func (o once) load(octets string) Reply {
	if len(o.args) != 1 {
		return refused("firmware load takes nothing but an image on its standard input.\n")
	}
	c := &o.v.Dev.Card
	img, err := image.Read([]byte(octets), c.ImageKey, c.Identity.Model)
	if err != nil {
		r := o.submit(snap.Command{Op: snap.OpFirmwareLoad, Text: err.Error()}, func(View) string {
			return "Not loaded: " + err.Error() + ". Nothing has changed.\n"
		})
		r.fails = true
		return r
	}
	return o.submit(snap.Command{Op: snap.OpFirmwareLoad, Release: img.Release, Text: img.Digest}, func(v View) string {
		f := slotsOf(v)
		return fmt.Sprintf("%s is in slot %s, SHA-256 %s.\nfirmware switch restarts the card into it.\n", img.Release.Version, snap.SlotName(1-f.Running), img.Digest)
	})
}

// Interrupted is the command that tells the card of an image that was cut off with
// the connection, nil if line loads none.
func Interrupted(v View, by snap.Actor, line string, octets []byte) *snap.Command {
	args, err := split(line)
	if err != nil || len(args) < 2 || !loadsImage(args) || by.Role < snap.Administrator {
		return nil
	}
	c := &v.Dev.Card
	if _, err = image.Read(octets, c.ImageKey, c.Identity.Model); err == nil {
		err = fmt.Errorf("the connection ended before it could be answered")
	}
	return &snap.Command{Op: snap.OpFirmwareLoad, By: by, Text: err.Error()}
}
