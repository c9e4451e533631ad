package snap

import "ridethrough/sim/internal/core/vtime"

// Commands on firmware.
const (
	OpFirmwareLoad   Op = "firmware-load"   // Release, Text: an image for the spare slot with its digest; without Release it was refused for the reason in Text
	OpFirmwareSwitch Op = "firmware-switch" // restart the card into the firmware of the spare slot
	OpFirmwareReturn Op = "firmware-return" // likewise, into what ran there before
)

// Release is one version of the card's firmware as its image describes it. It
// never changes once it was read.
type Release struct {
	Model   string `json:"model"`   // of the cards that it is for
	Version string `json:"version"` // 1 to 31 printable characters of ASCII
	Note    string `json:"note,omitempty"`
	After   string `json:"after,omitempty"` // version that has to run when it is loaded; "": any

	// Quirks come into force with it, Off ones go with it.
	Quirks []ReleaseQuirk `json:"quirks,omitempty"`
	// Resets is what of the card's memory it takes back to the factory's state when
	// it first runs: "" nothing, "settings" or "accounts", which is the login alone.
	Resets string `json:"resets,omitempty"`
	// Settings are those that it changes when it first runs.
	Settings []ReleaseSetting `json:"settings,omitempty"`

	// NewEngine: while it runs the card has another snmpEngineID. NewHostKey: the key of
	// the SSH server is made anew when it first runs, and stays.
	NewEngine  bool `json:"new_engine_id,omitempty"`
	NewHostKey bool `json:"new_host_key,omitempty"`

	BootMs   int64 `json:"boot_ms,omitempty"`    // from the start to the first answer; 0: as the card's first firmware
	FailTest bool  `json:"fails_test,omitempty"` // it does not pass its own test when it starts
}

// ReleaseQuirk is a quirk of a release, in words that stay the same.
type ReleaseQuirk struct {
	Name    string   `json:"name"`
	Off     bool     `json:"off,omitempty"`
	Objects []string `json:"objects,omitempty"`
	Alarms  []string `json:"alarms,omitempty"`
	Count   int      `json:"count,omitempty"`
	Value   int64    `json:"value,omitempty"`
	Percent float64  `json:"percent,omitempty"`
	DelayMs int64    `json:"delay_ms,omitempty"` // of real time
	LastsMs int64    `json:"lasts_ms,omitempty"`
}

// ReleaseSetting is a setting by its path with the value that it gets.
type ReleaseSetting struct {
	Path  string `json:"path"`
	Value string `json:"value"`
}

// ReleaseQuirkOf is q in words.
func ReleaseQuirkOf(q Quirk, off bool) ReleaseQuirk {
	r := ReleaseQuirk{
		Name: q.Kind.String(), Off: off, Objects: q.Objects, Count: q.Count, Value: q.Value, Percent: q.Percent,
		DelayMs: int64(q.Delay), LastsMs: int64(q.Lasts),
	}
	for _, a := range q.Alarms {
		r.Alarms = append(r.Alarms, a.String())
	}
	return r
}

// Quirk is r as a card has it: of kind 0 if there is none of that name. Unknown
// alarms have kind 0.
func (r ReleaseQuirk) Quirk() Quirk {
	q := Quirk{
		Kind: QuirkByName(r.Name), Objects: r.Objects, Count: r.Count, Value: r.Value, Percent: r.Percent,
		Delay: vtime.Tick(r.DelayMs), Lasts: vtime.Tick(r.LastsMs),
	}
	for _, a := range r.Alarms {
		q.Alarms = append(q.Alarms, AlarmByName(a))
	}
	return q
}

// SlotState says what is in a slot for firmware.
type SlotState string

// States of a slot.
const (
	SlotEmpty  SlotState = ""
	SlotNew    SlotState = "new"    // verified, has never run
	SlotGood   SlotState = "good"   // has run
	SlotFailed SlotState = "failed" // did not pass its own test
)

// Slot is one of the two places for firmware.
type Slot struct {
	State   SlotState `json:"state,omitempty"`
	Release *Release  `json:"release,omitempty"` // nil: the firmware that the card came with
	Digest  string    `json:"digest,omitempty"`  // SHA-256 of the image, hexadecimal; "": there was none
}

// Firmware is what a card has in its slots. It never changes: another one is put
// in its place.
type Firmware struct {
	Slots   [2]Slot `json:"slots"`
	Running int     `json:"running"` // index of the slot that runs
	Trying  bool    `json:"trying,omitempty"`
	// Loads, Refusals and Returns count images that were taken and that were not, and
	// automatic returns.
	Loads    int `json:"loads,omitempty"`
	Refusals int `json:"refusals,omitempty"`
	Returns  int `json:"returns,omitempty"`
}

// first is the firmware of a card that was never updated.
var first = Firmware{Slots: [2]Slot{{State: SlotGood}, {}}}

// FirstFirmware is what a card comes with: its firmware in slot A, nothing in B.
func FirstFirmware() *Firmware { return &first }

// Now is the slot that runs.
func (f *Firmware) Now() *Slot { return &f.Slots[f.Running] }

// Spare is the other one.
func (f *Firmware) Spare() *Slot { return &f.Slots[1-f.Running] }

// NotTo says why the firmware of the spare slot cannot be started, "" if it can: one
// that has never run, or with back one that has.
func (f *Firmware) NotTo(back bool) string {
	state, slot := f.Spare().State, SlotName(1-f.Running)
	switch {
	case state == SlotEmpty:
		return "there is nothing in slot " + slot
	case state == SlotFailed:
		return "what is in slot " + slot + " did not pass its own test"
	case back && state == SlotNew:
		return "what is in slot " + slot + " has never run: there is no way back to it"
	case !back && state == SlotGood:
		return "what is in slot " + slot + " is what ran before: that is a way back"
	}
	return ""
}

// OtherEngine says whether the firmware that runs has an snmpEngineID of its own.
func (c *Card) OtherEngine() bool {
	return c.Firmware != nil && c.Firmware.Now().Release != nil && c.Firmware.Now().Release.NewEngine
}

// SlotName is how people call the slot of that index.
func SlotName(i int) string { return string(rune('A' + i)) }

// Version is that of the firmware in s, "" if there is none; came is that of the
// firmware that the card came with.
func (s *Slot) Version(came string) string {
	switch {
	case s.State == SlotEmpty:
		return ""
	case s.Release == nil:
		return came
	}
	return s.Release.Version
}

// Upload is an image on its way into the spare slot.
type Upload struct {
	Version string
	From    vtime.Tick
	Until   vtime.Tick
}
