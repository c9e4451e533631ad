package fleet

import (
	"slices"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Site is the truth about device n, counted from 1; it is nil once the shard has
// ended.
func (f *Fleet) Site(n int) (site *snap.Site) {
	u := f.unit(n)
	u.shard.ask(func() { site = engine.Frame{Site: u.view()}.Clone() })
	return site
}

// Submit puts a command to device n.
func (f *Fleet) Submit(n int, c snap.Command) (result snap.Result) {
	u := f.unit(n)
	return answered(u.shard.ask(func() { result = u.Submit(c) }), &result)
}

// SubmitAll puts a command to every device. The result is the first that is not
// Done.
func (f *Fleet) SubmitAll(c snap.Command) snap.Result {
	var worst snap.Result
	for _, s := range f.shards {
		for units := range slices.Chunk(s.units, batch) { // requests are answered in between
			if r := s.submit(units, c); r.Status != snap.Done && worst.Status == snap.Done {
				worst = r
			}
		}
	}
	return worst
}

// submit puts a command to some devices of the shard.
func (s *shard) submit(units []unit, c snap.Command) (worst snap.Result) {
	status := s.ask(func() {
		for i := range units {
			if r := units[i].Submit(c); r.Status != snap.Done && worst.Status == snap.Done {
				worst = r
			}
		}
	})
	return answered(status, &worst)
}

func answered(status snap.Status, result *snap.Result) snap.Result {
	switch status {
	case snap.Gone:
		return snap.Result{Status: status, Reason: "the simulation has ended"}
	case snap.Busy:
		return snap.Result{Status: status, Reason: "too many commands wait"}
	}
	return *result
}

// Sum is how many devices are how.
type Sum struct {
	Tick                              vtime.Tick // of the device that is furthest
	Devices, OnBattery, Low, NoOutput int
	HostsCut                          int
	Sent, Acked, Unacked              snap.Sent
}

// Sum counts the devices.
func (f *Fleet) Sum() Sum {
	var sum Sum
	for _, s := range f.shards {
		s.ask(func() {
			for i := range s.units {
				sum.add(s.units[i].view())
			}
		})
	}
	return sum
}

func (s *Sum) add(v *snap.Site) {
	s.Tick = max(s.Tick, v.Tick)
	s.Devices++
	switch v.UPS.Source {
	case snap.SourceBattery:
		s.OnBattery++
	case snap.SourceNone:
		s.NoOutput++
	}
	if v.Battery.Status != snap.BatteryNormal {
		s.Low++
	}
	for i := range v.Hosts {
		s.HostsCut += v.Hosts[i].Cuts
	}
	for k := range v.Sent {
		s.Sent[k], s.Acked[k], s.Unacked[k] = s.Sent[k]+v.Sent[k], s.Acked[k]+v.Acked[k], s.Unacked[k]+v.Unacked[k]
	}
}
