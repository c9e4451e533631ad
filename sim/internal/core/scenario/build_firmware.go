package scenario

import (
	"slices"

	"ridethrough/sim/internal/core/image"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// releases are the images of firmware that the file has.
func (b *builder) releases(tables []releaseTable) error {
	if b.kept == nil || len(tables) > 0 { // nobody brings another image to a run of a study
		b.plan.Card.ImageKey = image.Public(b.plan.Seed)
	}
	names, versions := map[string]int{}, map[string]int{b.plan.Card.Identity.Firmware: 0}
	known := []string{b.plan.Card.Identity.Firmware}
	for i := range tables {
		known = append(known, tables[i].Version)
	}
	for i := range tables {
		t := &tables[i]
		if t.After != "" && !slices.Contains(known, t.After) {
			return b.missing(t.at("after"), "version", t.After, known)
		}
		if err := b.newName(names, t.at("name"), "the releases", t.Name); err != nil {
			return err
		}
		if err := b.unique(versions, t.at("version"), "the firmware and its releases", t.Version); err != nil {
			return err
		}
		r, err := b.release(t)
		if err != nil {
			return err
		}
		b.plan.Releases = append(b.plan.Releases, plan.Release{Name: t.Name, Release: r})
	}
	return nil
}

func (b *builder) release(t *releaseTable) (snap.Release, error) {
	r := snap.Release{
		Model: b.plan.Card.Identity.Model, Version: t.Version, Note: t.Note, After: t.After,
		BootMs: int64(or(t.BootTakes, 0)), FailTest: t.FailsTest, NewEngine: t.Engine == "new", NewHostKey: t.HostKey == "new",
	}
	if t.Resets != "nothing" {
		r.Resets = t.Resets
	}
	kinds := map[string]int{}
	for i := range t.Quirks {
		x := &t.Quirks[i]
		if err := b.unique(kinds, x.at("name"), "the quirks", x.Name); err != nil {
			return r, err
		}
		q, err := b.quirk(x)
		if err != nil {
			return r, err
		}
		r.Quirks = append(r.Quirks, snap.ReleaseQuirkOf(q, x.Off))
	}
	if t.Settings == nil {
		return r, nil
	}
	a, err := b.settingsAction(t.Settings)
	for _, v := range a.Settings {
		r.Settings = append(r.Settings, snap.ReleaseSetting{Path: v.Path, Value: v.Text})
	}
	if why := image.Check(&r); why != nil && err == nil {
		err = b.src.at(t.at("settings"), why.Error(), "paths of docs/settings.md outside of lists and values of theirs; of a secret only \"\"")
	}
	return r, err
}

// firmwareAction is a step of an update.
func (b *builder) firmwareAction(t *firmwareTable) (plan.Action, error) {
	a := plan.Action{Kind: plan.ActFirmware}
	if t.Word != "" {
		a.Update.Do = t.Word
		return a, nil
	}
	a.Update = plan.Update{Do: "load", Takes: t.Takes}
	if t.Image != "good" {
		a.Update.Fault = t.Image
	}
	var names []string
	for i := range b.plan.Releases {
		r := &b.plan.Releases[i]
		if names = append(names, r.Name); r.Name == t.Load {
			a.Update.Release = &r.Release
			return a, nil
		}
	}
	return a, b.missing(t.at("load"), "release", t.Load, names)
}
