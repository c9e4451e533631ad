package site

import (
	"ridethrough/sim/internal/core/image"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// update plays one step of an update. The image is a real one, and what the card
// makes of it the same as over SSH.
func (s *Site) update(now vtime.Tick, u plan.Update) {
	if u.Do != "load" {
		s.atCard("firmware "+u.Do+" refused", func() snap.Result { return s.card.Switch(now, s.technician(), u.Do == "return") })
		return
	}
	b, err := image.Spoiled(u.Fault, u.Release, image.Code, image.Key(s.plan.Seed))
	if err != nil {
		panic("site: an image that was not checked: " + err.Error())
	}
	s.card.Upload(now, s.technician(), b, u.Release.Version, u.Takes)
}

// loaded takes what a surface made of an image. The command may come from a
// journal, so that it may hold anything.
func (s *Site) loaded(c snap.Command) snap.Result {
	if c.Release == nil {
		s.card.RefuseImage(s.now, c.By, c.Text)
		return snap.Result{}
	}
	if err := image.Check(c.Release); err != nil {
		return snap.Result{Status: snap.WrongValue, Reason: err.Error()}
	}
	return s.card.TakeImage(s.now, c.By, &image.Image{Release: c.Release, Digest: c.Text})
}

// takeQuirks has the quirks come and go that the firmware brings.
func (s *Site) takeQuirks(now vtime.Tick) {
	for _, q := range s.card.TakeQuirks() {
		s.setQuirk(now, q.Quirk, q.On)
	}
}

// atCard does something that needs a card that answers; failed begins the line that
// says why it was not done.
func (s *Site) atCard(failed string, do func() snap.Result) {
	r := snap.Result{Status: snap.Busy, Reason: "the card does not answer"}
	if s.card.Running() {
		r = do()
	}
	if r.Status != snap.Done {
		s.note("card", failed+": "+r.Reason)
	}
}
