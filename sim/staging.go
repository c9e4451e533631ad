package sim

import (
	"time"

	"ridethrough/sim/internal/core/staging"
	"ridethrough/sim/internal/core/vtime"
)

// StagedGroup is an outlet group of a [Staging].
type StagedGroup struct {
	Name    string
	OnDelay time.Duration // from the output coming on
	// OffDelay is from the start of a shutdown countdown, which has to be at least as
	// long as the longest of them: the reverse of the order in which they come on.
	OffDelay time.Duration
	PeakPct  float64 // highest load from its coming on to that of the next, in percent of the rating
}

// Staging is a recommended way for the outlet groups to come on, and what comes of it.
// Peaks are loads of the output in percent of its rating, inrush and all, of a
// rehearsal in which the output goes off and on and every host starts.
type Staging struct {
	Groups      []StagedGroup // in the order in which they come on
	PeakPct     float64       // with these delays
	AsSetPct    float64       // with those of the scenario
	TogetherPct float64       // all groups with the output
}

// Stage recommends delays for the groups that the unit feeds: the control path first,
// then by what their hosts need, gap apart; if ready, also not before the hosts that
// they need have booted; of a site with further units for the first alone, see
// [Scenario.Alone]. The error is an *InvalidError for a fleet.
func (s *Scenario) Stage(gap time.Duration, ready bool) (*Staging, error) {
	if err := s.oneSite(); err != nil {
		return nil, err
	}
	s, err := s.Alone("")
	if err != nil {
		return nil, err
	}
	delays := staging.Delays(s.plan, vtime.FromDuration(gap), ready)
	peak, err := s.rehearse(delays)
	if err != nil {
		return nil, err
	}
	st := &Staging{PeakPct: peak.Pct, Groups: s.staged(delays, peak, gap)}
	set, together := make([]vtime.Tick, len(delays)), make([]vtime.Tick, len(delays))
	for i := range set {
		set[i] = s.plan.Groups[i].OnDelay
	}
	if peak, err = s.rehearse(set); err != nil {
		return nil, err
	}
	st.AsSetPct = peak.Pct
	if peak, err = s.rehearse(together); err != nil {
		return nil, err
	}
	st.TogetherPct = peak.Pct
	return st, nil
}

func (s *Scenario) rehearse(delays []vtime.Tick) (staging.Peak, error) {
	peak, err := staging.Rehearse(s.plan, delays)
	if err != nil {
		return peak, invalid(s.name, err)
	}
	return peak, nil
}

// staged are the groups that the unit feeds, by their delays.
func (s *Scenario) staged(delays []vtime.Tick, peak staging.Peak, gap time.Duration) (list []StagedGroup) {
	order := staging.Order(s.plan)
	for k, i := range order {
		off := time.Duration(len(order)-1-k) * gap
		list = append(list, StagedGroup{s.plan.Groups[i].Name, delays[i].Duration(), off, peak.Groups[i]})
	}
	return list
}
