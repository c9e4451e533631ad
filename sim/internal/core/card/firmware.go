package card

import (
	"fmt"
	"reflect"

	"ridethrough/sim/internal/core/image"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// updating is what goes on with the card's firmware.
type updating struct {
	upload *upload       // on its way; nil: none
	ran    *snap.Release // whose quirks are in force
}

// upload is an image on its way over the network.
type upload struct {
	snap.Upload
	by    snap.Actor
	image []byte
}

// QuirkChange is a quirk that comes or goes with the firmware.
type QuirkChange struct {
	Quirk snap.Quirk
	On    bool
}

// Upload begins to take an image, which is there after takes, unless the card is
// out of reach before.
func (c *Card) Upload(now vtime.Tick, by snap.Actor, b []byte, version string, takes vtime.Tick) {
	if !c.Reachable() {
		c.says(snap.What{Kind: snap.WhatFirmware}, "firmware", "upload of "+version+": the card is out of reach")
		return
	}
	c.updating.upload = &upload{snap.Upload{Version: version, From: now, Until: now + takes}, by, b}
	c.says(snap.What{Kind: snap.WhatFirmware}, "firmware", "upload of "+version+" begins")
	c.dueUpload(now)
}

// dueUpload ends an upload that is whole, or that was cut off: the card then has the
// first part of it.
func (c *Card) dueUpload(now vtime.Tick) {
	u := c.updating.upload
	switch {
	case u == nil || c.Reachable() && now < u.Until:
		return
	case now < u.Until:
		u.image = u.image[:int64(len(u.image))*int64(now-u.From)/int64(u.Until-u.From)]
	}
	c.updating.upload = nil
	if img, err := image.Read(u.image, c.cfg.ImageKey, c.cfg.Identity.Model); err != nil {
		c.RefuseImage(now, u.by, err.Error())
	} else {
		c.TakeImage(now, u.by, img)
	}
}

// TakeImage puts a genuine image into the spare slot, in place of what was there, if it
// goes on what runs.
func (c *Card) TakeImage(now vtime.Tick, by snap.Actor, img *image.Image) snap.Result {
	if after := img.Release.After; after != "" && after != c.version() {
		why := fmt.Sprintf("%s goes on %s alone, and %s runs", img.Release.Version, after, c.version())
		c.RefuseImage(now, by, why)
		return snap.Result{Status: snap.Inconsistent, Reason: why}
	}
	f := *c.kept.Firmware
	*f.Spare() = snap.Slot{State: snap.SlotNew, Release: img.Release, Digest: img.Digest}
	f.Loads++
	c.setFirmware(&f)
	c.tellFirmware(now, fmt.Sprintf("%s loaded into slot %s by %s", img.Release.Version, snap.SlotName(1-f.Running), who(by)))
	return snap.Result{}
}

// RefuseImage notes that an image was not taken. Nothing changes by it.
func (c *Card) RefuseImage(now vtime.Tick, by snap.Actor, why string) {
	f := *c.kept.Firmware
	f.Refusals++
	c.setFirmware(&f)
	c.tellFirmware(now, "image from "+who(by)+" refused: "+why)
}

// Switch restarts the card into the firmware of the spare slot: one that has never
// run, or with back one that has.
func (c *Card) Switch(now vtime.Tick, by snap.Actor, back bool) snap.Result {
	f := *c.kept.Firmware
	if why := f.NotTo(back); why != "" {
		return snap.Result{Status: snap.Inconsistent, Reason: why}
	}
	f.Running, f.Trying = 1-f.Running, true
	c.setFirmware(&f)
	c.tellFirmware(now, fmt.Sprintf("%s in slot %s started by %s", c.version(), snap.SlotName(f.Running), who(by)))
	c.Restart(now)
	return snap.Result{}
}

// passes is the test that firmware makes of itself when it starts for the first time
// after a switch. What does not pass gives way to what ran before: the card boots
// once more.
func (c *Card) passes(now vtime.Tick) bool {
	f := *c.kept.Firmware
	if !f.Trying {
		return true
	}
	f.Trying = false
	slot := f.Now()
	if slot.Release != nil && slot.Release.FailTest {
		slot.State = snap.SlotFailed
		failed := c.version()
		f.Running = 1 - f.Running
		f.Returns++
		c.setFirmware(&f)
		c.tellFirmware(now, fmt.Sprintf("%s did not pass its own test: back to %s in slot %s", failed, c.version(), snap.SlotName(f.Running)))
		return false
	}
	first := slot.State == snap.SlotNew
	slot.State = snap.SlotGood
	c.setFirmware(&f)
	c.tellFirmware(now, fmt.Sprintf("%s in slot %s passed its own test", c.version(), snap.SlotName(f.Running)))
	if first && slot.Release != nil {
		c.firstRun(now, slot.Release)
	}
	return true
}

// firstRun does to the card's memory what a release does to it.
func (c *Card) firstRun(now vtime.Tick, r *snap.Release) {
	if level, ok := LevelByName(r.Resets); ok {
		fresh := c.fresh()
		for i := range sections {
			if s := &sections[i]; s.reset == level {
				reflect.ValueOf(s.at(&c.kept)).Elem().Set(reflect.ValueOf(s.at(&fresh)).Elem())
				c.changed(s.at(&c.kept))
			}
		}
		c.tellFirmware(now, r.Version+" took the "+r.Resets+" back to the factory's state")
	}
	if r.NewHostKey {
		c.NewHostKey(now, "by "+r.Version)
	}
	if len(r.Settings) == 0 {
		return
	}
	next, values := c.kept.Settings.Clone(), make([]setting.Value, len(r.Settings))
	for i, x := range r.Settings {
		values[i] = setting.Value{Path: x.Path, Text: x.Value}
	}
	if _, err := setting.Apply(next, values); err != nil {
		c.tellFirmware(now, r.Version+" could not change settings: "+err.Error())
		return
	}
	next.Seal()
	changes := setting.Diff(c.kept.Settings, next)
	c.kept.Settings = next
	c.changed(&c.kept.Settings)
	c.tellFirmware(now, r.Version+" changed settings: "+named(changes))
}

// TakeQuirks are the quirks that come and go because other firmware runs than when
// it was last asked. Those that the card came with are its own, whatever runs, except
// where the firmware says otherwise.
func (c *Card) TakeQuirks() (list []QuirkChange) {
	before, after := c.updating.ran, c.kept.Firmware.Now().Release
	if before == after || !c.Running() {
		return nil
	}
	c.updating.ran = after
	if before != nil {
		for _, q := range before.Quirks {
			list = append(list, c.cameWith(q.Quirk().Kind))
		}
	}
	if after != nil {
		for _, q := range after.Quirks {
			list = append(list, QuirkChange{q.Quirk(), !q.Off})
		}
	}
	return list
}

// cameWith is how a quirk stands that no firmware says anything of.
func (c *Card) cameWith(k snap.QuirkKind) QuirkChange {
	for _, q := range c.cfg.Quirks {
		if q.Kind == k {
			return QuirkChange{q, true}
		}
	}
	return QuirkChange{snap.Quirk{Kind: k}, false}
}

func (c *Card) setFirmware(f *snap.Firmware) {
	c.kept.Firmware = f
	c.changed(&c.kept.Firmware)
}

// version is that of the firmware that runs, or is being tried.
func (c *Card) version() string { return c.kept.Firmware.Now().Version(c.cfg.Identity.Firmware) }

// bootTakes is how long the firmware that runs takes to start.
func (c *Card) bootTakes() vtime.Tick {
	if r := c.kept.Firmware.Now().Release; r != nil && r.BootMs > 0 {
		return vtime.Tick(r.BootMs)
	}
	return c.cfg.BootTakes
}

// hearFailed tells at a start of firmware that did not pass its own test.
func (c *Card) hearFailed() {
	if f := c.kept.Firmware; f.Spare().State == snap.SlotFailed {
		c.Hear(snap.EventFirmware, 0, true, "what is in slot "+snap.SlotName(1-f.Running)+" did not pass its own test: "+c.version()+" runs")
	}
}

// tellFirmware notes something in the trace, and in the journal of a card that is up
// or comes up.
func (c *Card) tellFirmware(now vtime.Tick, text string) {
	c.says(snap.What{Kind: snap.WhatFirmware}, "firmware", text)
	c.hearLast(now, snap.EventFirmware, text) // it may be about to restart
	if c.state != snap.CardOff {
		c.journal.add(now, "firmware "+text)
	}
}

// identity is what the factory gave the card, with the version that runs.
func (c *Card) identity() snap.Identity {
	id := c.cfg.Identity
	id.First, id.Firmware = id.Firmware, c.version()
	return id
}

// viewFirmware writes what a surface may know of it.
func (c *Card) viewFirmware(v *snap.Card) {
	v.HostKey = c.hostKey
	v.Identity, v.Firmware, v.Upload, v.ImageKey = c.identity(), c.kept.Firmware, c.uploading(), c.cfg.ImageKey
}

// uploading is what a surface may know of an upload.
func (c *Card) uploading() *snap.Upload {
	if c.updating.upload == nil {
		return nil
	}
	u := c.updating.upload.Upload
	return &u
}

// checkFirmware says what is wrong with firmware out of a memory.
func checkFirmware(f *snap.Firmware) error {
	switch {
	case f == nil || f.Running != 0 && f.Running != 1:
		return fmt.Errorf("section firmware: it does not say which slot runs")
	case f.Now().State == snap.SlotEmpty || f.Now().State == snap.SlotFailed:
		return fmt.Errorf("section firmware: slot %s, which runs, is %q", snap.SlotName(f.Running), f.Now().State)
	}
	for i, s := range f.Slots {
		if s.Release == nil {
			continue
		}
		if err := image.Check(s.Release); err != nil {
			return fmt.Errorf("section firmware: slot %s: %w", snap.SlotName(i), err)
		}
	}
	return nil
}
