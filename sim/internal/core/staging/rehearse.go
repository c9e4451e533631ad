package staging

import (
	"slices"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// When the output of a rehearsal goes off, and on again, and how long after the last
// group it is looked at: the load that decides comes within seconds.
const (
	offAt  = vtime.Second
	onAt   = vtime.Minute
	lookOn = vtime.Minute
)

// Peak is what the output bears while its groups come on.
type Peak struct {
	Pct    float64   // highest load in percent of the rating
	Groups []float64 // likewise, from each group coming on to the next
}

// Rehearse plays p's site, at work on good mains, through an output that goes off and
// comes on again with those delays. Whatever the scenario would do, and whoever
// would decide, is left out; every host starts as soon as it has power.
func Rehearse(p *plan.Plan, delays []vtime.Tick) (Peak, error) {
	end := onAt + lookOn
	for i, d := range delays {
		if !p.Groups[i].FromMains {
			end = max(end, onAt+d+lookOn)
		}
	}
	e, frame, err := engine.New(stage(p, delays, end), nil)
	if err != nil {
		return Peak{}, err
	}
	peak := Peak{Groups: make([]float64, len(p.Groups))}
	was, last := make([]bool, len(p.Groups)), -1
	for frame.Tick < end {
		if frame = e.Step(end); frame.Tick < onAt {
			continue
		}
		last = latest(p, frame.Site.Groups, was, last)
		load := frame.Site.Power.LoadPct
		peak.Pct = max(peak.Pct, load)
		if last >= 0 {
			peak.Groups[last] = max(peak.Groups[last], load)
		}
	}
	return peak, nil
}

// latest is the group of the unit that came on last. Was is updated.
func latest(p *plan.Plan, groups []snap.Group, was []bool, last int) int {
	for i := range groups {
		if groups[i].On && !was[i] && !p.Groups[i].FromMains {
			last = i
		}
		was[i] = groups[i].On
	}
	return last
}

// stage is p reduced to a site whose output goes off and on.
func stage(p *plan.Plan, delays []vtime.Tick, end vtime.Tick) *plan.Plan {
	q := *p
	q.Groups, q.Hosts = slices.Clone(p.Groups), slices.Clone(p.Hosts)
	for i := range q.Groups {
		g := &q.Groups[i]
		g.OnDelay, g.OffDelay, g.Rules = delays[i], vtime.Never, plan.Rules{}
	}
	for i := range q.Hosts {
		q.Hosts[i].Restart, q.Hosts[i].Process = plan.RestartOn, nil
	}
	q.Card.Memory, q.Card.Like().Quirks = nil, nil
	q.Card.Settings = *p.Card.Settings.Clone()
	q.Card.Settings.Groups, q.Card.Settings.Restart = q.OutletGroups(), snap.RestartGate{}
	q.Policy, q.Expects, q.Fleet = nil, nil, nil
	q.RunFor = end
	q.Entries = []plan.Entry{
		{At: offAt, Actions: []plan.Action{{Kind: plan.ActOutput}}},
		{At: onAt, Actions: []plan.Action{{Kind: plan.ActOutput, On: true}}},
	}
	return &q
}
