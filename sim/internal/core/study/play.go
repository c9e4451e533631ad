package study

import (
	"fmt"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/vary"
)

// Source is a scenario file and the versions of it that are played side by side, on
// the same draws.
type Source struct {
	Name     string // as messages call it
	Text     []byte
	Seed     uint64   // of the study
	Variants []string // at least one; "" is the scenario as it stands
}

// Player plays single runs. It is not safe for concurrent use.
type Player struct {
	seed  uint64
	molds []*scenario.Mold
}

// NewPlayer reads the scenario. The error is a *scenario.Problem.
func NewPlayer(s *Source) (*Player, error) {
	p := &Player{seed: s.Seed}
	for _, v := range s.Variants {
		m, err := scenario.NewMold(s.Name, s.Text, scenario.Options{Variant: v, Seed: &s.Seed})
		if err != nil {
			return nil, err
		}
		p.molds = append(p.molds, m)
	}
	return p, nil
}

// Quantities are what varies in the version of that number, in the order of its draws.
func (p *Player) Quantities(version int) []scenario.Quantity { return p.molds[version].Quantities() }

// Plan is what is played in a run, counted from 1, in the version of that number,
// and its draws. It is good until the next call for that version. The error is a
// *RunError.
func (p *Player) Plan(version, run int) (*plan.Plan, []float64, error) {
	m := p.molds[version]
	quantities := m.Quantities()
	draws := make([]float64, len(quantities))
	for i := range quantities {
		if q := &quantities[i]; !q.Fixed {
			draws[i] = q.Draw(p.seed, run)
		}
	}
	made, err := m.Plan(vary.RunSeed(p.seed, run), draws)
	if err != nil {
		return nil, nil, &RunError{run, err}
	}
	return made, draws, nil
}

// Play plays a run in every version.
func (p *Player) Play(run int) (Run, error) {
	r := Run{Number: run}
	for v := range p.molds {
		made, draws, err := p.Plan(v, run)
		if err != nil {
			return r, err
		}
		o, err := play(made, draws)
		if err != nil {
			return r, &RunError{run, err}
		}
		r.Versions = append(r.Versions, o)
	}
	return r, nil
}

func play(p *plan.Plan, draws []float64) (Outcome, error) {
	e, frame, err := engine.New(p, nil)
	if err != nil {
		return Outcome{}, err
	}
	o := newObserver(p)
	o.see(&frame)
	for !e.Ended() {
		frame = e.Step(p.RunFor)
		o.see(&frame)
	}
	return o.outcome(frame.Site, e.Finish(), draws), nil
}

// RunError is a run whose draws do not go together.
type RunError struct {
	Run int
	Err error
}

// Error is one line.
func (e *RunError) Error() string { return fmt.Sprintf("%v (in run %d of the study)", e.Err, e.Run) }

// Unwrap is the cause.
func (e *RunError) Unwrap() error { return e.Err }

// block is how many runs are handed on at once.
const block = 256

// Play plays the runs from first to last on that many workers and hands them to
// each in their order, some at a time, until done is closed. It returns the number
// of the last one that was handed on. The error is a *RunError, a *scenario.Problem
// or that of each.
func Play(s *Source, first, last, workers int, done <-chan struct{}, each func([]Run) error) (int, error) {
	players := make(chan *Player, workers)
	for range workers {
		p, err := NewPlayer(s)
		if err != nil {
			return first - 1, err
		}
		players <- p
	}
	at := first
	for at <= last {
		runs := make([]Run, min(block, last-at+1))
		faults := make([]error, len(runs))
		n := engine.Each(len(runs), workers, done, func(i int, _ *engine.Scratch) {
			p := <-players
			runs[i], faults[i] = p.Play(at + i)
			players <- p
		})
		for _, err := range faults[:n] {
			if err != nil {
				return at - 1, err
			}
		}
		if err := each(runs[:n]); err != nil {
			return at - 1, err
		}
		at += n
		if n < len(runs) {
			break
		}
	}
	return at - 1, nil
}
