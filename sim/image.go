package sim

import (
	"ridethrough/sim/internal/core/image"
)

// Release is a version of the card's firmware that a scenario has.
type Release struct {
	Name    string // in the scenario
	Model   string // of the card
	Version string
	Note    string
}

// Releases are the versions that the card can be updated to, in the order of the
// file.
func (s *Scenario) Releases() []Release {
	list := make([]Release, len(s.plan.Releases))
	for i, r := range s.plan.Releases {
		list[i] = Release{Name: r.Name, Model: r.Model, Version: r.Version, Note: r.Note}
	}
	return list
}

// ImageFaults are the faults that [Scenario.Image] knows.
func ImageFaults() []string { return image.Faults() }

// MaxImage is the size in octets that no image exceeds.
const MaxImage = image.MaxSize

// Image is the firmware image of the release of that name, signed for the cards of
// this scenario under its seed, with that many octets of code, or about 64 KiB for
// 0. With a fault it is wrong in that way; "" is a good one. docs/card.md has the
// format. ok is false if there is no such release.
func (s *Scenario) Image(name, fault string, code int) (b []byte, ok bool, err error) {
	if code == 0 {
		code = image.Code
	}
	for i := range s.plan.Releases {
		if r := &s.plan.Releases[i]; r.Name == name {
			b, err = image.Spoiled(fault, &r.Release, code, image.Key(s.plan.Seed))
			return b, true, err
		}
	}
	return nil, false, nil
}
