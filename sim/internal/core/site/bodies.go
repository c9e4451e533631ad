package site

import (
	"fmt"
	"math"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/num"
)

// body is one probe as a thing: it hangs in a place, measures at its own times,
// multiples of its interval, and is plugged into a socket of the card or not.
type body struct {
	cfg     *plan.Probe
	id      string
	draw    func() float64
	follows float64 // share of the way to its place that it goes in one interval
	bodyC   float64
	next    vtime.Tick
	place   int  // where it hangs
	home    int  // socket that it belongs into
	in      bool // it is plugged in there
	fresh   bool // it was plugged in and has not measured since

	temp, humidityPct float64 // its last reading, in its own unit
	contacts          int     // index of the first that is wired to it
}

// place is where a probe can hang.
type place struct {
	offsetK        float64
	warmK, dampPct float64 // beside that, until
	until          vtime.Tick
}

// newBodies are the probes of p in their places and sockets.
func (s *Site) newBodies(p *plan.Plan, room snap.Room) {
	wired := 0
	for i := range p.Probes {
		cfg := &p.Probes[i]
		b := body{
			cfg: cfg, id: s.self.ProbeID(cfg), draw: rng.Stream(s.self.Seed, "probe/"+cfg.Name).Float64, follows: 1,
			bodyC: room.TempC + cfg.OffsetK, place: i, home: i, in: true, contacts: wired,
		}
		if cfg.Lag > 0 {
			b.follows = -num.Expm1(-cfg.Every.Seconds() / cfg.Lag.Seconds())
		}
		wired += len(cfg.Contacts)
		s.places = append(s.places, place{offsetK: cfg.OffsetK, until: vtime.Never})
		b.show(room, &s.places[i])
		s.bodies = append(s.bodies, b)
	}
}

// runBodies lets the probes measure whose time has come, and the card take what
// they say.
func (s *Site) runBodies(now vtime.Tick) {
	for i := range s.places {
		if p := &s.places[i]; p.until <= now {
			p.warmK, p.dampPct, p.until = 0, 0, vtime.Never
		}
	}
	for i := range s.bodies {
		b := &s.bodies[i]
		if b.next > now {
			continue
		}
		b.next = now - now%b.cfg.Every + b.cfg.Every
		if b.measure(s.room.view(&s.ups.Physics, &s.motion), &s.places[b.place]) {
			s.touch()
		}
		if w := s.watcher(i); w != nil {
			s.judge(now, w)
		}
	}
}

// measure takes one sample and says whether the reading has changed.
func (b *body) measure(room snap.Room, at *place) bool {
	temp, humidity := b.temp, b.humidityPct
	b.bodyC += float64((room.TempC + at.offsetK + at.warmK - b.bodyC) * b.follows)
	b.show(room, at)
	b.fresh = b.fresh && !b.in
	return b.temp != temp || b.humidityPct != humidity
}

// show makes the reading: the body's temperature with an error that is likelier
// small than large, in tenths, and whole percents.
func (b *body) show(room snap.Room, at *place) {
	noise := float64((b.draw() + b.draw() - 1) * b.cfg.NoiseK) // drawn though the cable is out
	if !b.in {
		return
	}
	b.temp = math.Round(float64(b.unit().Of(b.bodyC+noise)*10)) / 10
	if b.cfg.Humidity {
		b.humidityPct = math.Round(min(max(room.HumidityPct+at.dampPct, 0), 100))
	}
}

func (b *body) unit() snap.TempUnit {
	if b.cfg.Fahrenheit {
		return snap.Fahrenheit
	}
	return snap.Celsius
}

// plugProbe puts the cable of a probe in or pulls it out. Put in again, it shows
// its place with the next measurement.
func (s *Site) plugProbe(now vtime.Tick, i int, in bool) {
	b := &s.bodies[i]
	s.note("bench", fmt.Sprintf("probe %s %s", b.cfg.Name, snap.Either(in, "plugged in", "unplugged")))
	b.fresh = in && (b.fresh || !b.in)
	b.in = in
	if in {
		at := &s.places[b.place]
		b.bodyC = s.ups.Physics.RoomC + at.offsetK + at.warmK
	}
	s.cables(now)
}

// swapProbes has two probes change their sockets, or their places.
func (s *Site) swapProbes(now vtime.Tick, i, k int, places bool) {
	a, b := &s.bodies[i], &s.bodies[k]
	text := fmt.Sprintf("probes %s and %s change their ", a.cfg.Name, b.cfg.Name)
	if places {
		s.note("bench", text+"places")
		a.place, b.place = b.place, a.place
		return
	}
	s.note("bench", text+"sockets")
	a.home, b.home = b.home, a.home
	s.cables(now)
}

// stir makes the place of a probe warmer or damper for a time.
func (s *Site) stir(now vtime.Tick, a plan.Action) {
	text := fmt.Sprintf("place of probe %s %+.1f K", s.plan.Probes[a.Probe].Name, a.Value)
	if a.Damp != 0 {
		text += fmt.Sprintf(", %+.0f %%", a.Damp)
	}
	p := &s.places[a.Probe]
	p.warmK, p.dampPct, p.until = a.Value, a.Damp, vtime.Never
	if a.Change.Lasts > 0 {
		p.until = now + a.Change.Lasts
		text += " for " + a.Change.Lasts.String()
	}
	s.note("bench", text)
}

// inSocket is the probe in that socket, -1 if there is none.
func (s *Site) inSocket(socket int) int {
	for i := range s.bodies {
		if b := &s.bodies[i]; b.in && b.home == socket {
			return i
		}
	}
	return -1
}
