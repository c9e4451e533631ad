package serve

import (
	"time"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/proc"
)

// each sees every frame, in the loop's goroutine.
func (s *session) each(f engine.Frame) {
	for i, u := range s.units {
		u.see(f.Site.Of(i))
	}
	for _, e := range f.Effects {
		if s.processes == nil {
			s.early = append(s.early, e)
			continue
		}
		s.carryOut(e)
	}
	s.log.Add(f.Events, f.Site)
	s.c.Each(f)
}

func (s *session) carryOut(e snap.Effect) {
	u := s.units[e.Unit]
	switch e.Kind {
	case snap.EffectNotify:
		u.notify.send(e.Notification, &u.card.Device().Card)
	case snap.EffectPost:
		s.guard("mail", func() { u.posts.send(s.running, e.Post) })
	case snap.EffectKill:
		s.processes.Kill(e.Host)
	case snap.EffectTime:
		u.times.ask(s.running, *e.Time)
	case snap.EffectLease:
		u.sendLease(*e.Lease)
	case snap.EffectSpawn:
		s.spawn(proc.Run{Host: e.Host, Number: e.Run})
	}
}

// sendLease is for the card on an interface alone: no other asks real servers.
func (s *served) sendLease(q snap.LeaseQuery) {
	if s.follow != nil && s.follow.port != nil {
		s.follow.port.Send(q)
	}
}

func (s *session) spawn(run proc.Run) {
	for i := range s.c.Plan.Hosts {
		if h := &s.c.Plan.Hosts[i]; h.Name == run.Host {
			if err := s.processes.Start(run, h.Process); err != nil {
				s.c.Log(err.Error())
				s.guard("process", func() { s.processEnded(run, -1) })
			}
		}
	}
}

// processEnded carries the end of a host's program to the engine, which may
// itself be waiting for the runner: it never runs in the loop's goroutine. A
// full inbox is tried again: nobody else will tell.
func (s *session) processEnded(run proc.Run, code int) {
	end := snap.Command{
		Op: snap.OpProcEnded, Host: run.Host, Run: run.Number, Code: code, By: snap.Actor{Surface: "process"},
	}
	for s.loop.Submit(end).Status == snap.Busy {
		time.Sleep(time.Millisecond)
	}
}
