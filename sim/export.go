package sim

import (
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/bundle"
)

// export writes a run as a recorder would have seen it. A nil one writes nothing.
type export struct {
	to      *bundle.Writer
	sampler *sampler
	err     error // the first
}

// usualInterval is how often [Record] is told to read if nobody says otherwise.
const usualInterval = 10 * vtime.Second

// exporting has r write the bundle that opts ask for, if they do.
func (r *run) exporting(opts RunOptions) (*export, error) {
	if opts.Bundle == nil {
		return nil, nil
	}
	interval := tickOf(opts.Interval)
	if interval <= 0 {
		interval = usualInterval
	}
	p := r.scenario.plan
	to, err := bundle.NewWriter(opts.Bundle, bundle.Header{Start: p.Start, Interval: interval.Duration(), Version: "none", Program: program()}, nil)
	if err != nil {
		return nil, ioError("write", "the bundle", err)
	}
	x := &export{to: to}
	due := -interval
	x.sampler = &sampler{
		next: func() (vtime.Tick, bool) {
			due += interval
			return due, due <= p.RunFor
		},
		take:   func(b bundle.Reading) { x.keep(x.to.Reading(b)) },
		notice: func(n bundle.Notice) { x.keep(x.to.Notice(n)) },
	}
	r.sampler = x.sampler
	return x, nil
}

func (x *export) keep(err error) {
	if x.err == nil {
		x.err = err
	}
}

// end writes what is due up to the end of the run, and the end.
func (x *export) end(at vtime.Tick) error {
	if x == nil {
		return nil
	}
	x.sampler.until(at)
	x.keep(x.to.Close(at.Duration()))
	if x.err != nil {
		return ioError("write", "the bundle", x.err)
	}
	return nil
}
