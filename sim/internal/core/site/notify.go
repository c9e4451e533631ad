package site

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/path"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// notify issues a notification. Whether its datagrams are lost on the card's link is
// thrown here, for each receiver, so that everybody who looks at one agrees: peers,
// the monitoring manager, sinks, and who sends it to a real receiver.
func (s *Site) notify(n snap.Notification) {
	alerts := s.card.Alerting()
	for i, r := range alerts.Receivers {
		switch {
		case !alerts.Addresses(n, r):
		case s.card.Holds(s.now, i, &r, n.To != 0):
			n.Barred |= 1 << i
		case s.loses("notify", outward):
			n.Astray |= 1 << i
		}
	}
	s.emit(snap.Effect{Kind: snap.EffectNotify, Notification: n})
	about := s.about(n)
	s.sendOut(n, about)
	s.says(snap.What{Kind: snap.WhatNotify, Notify: n.Kind}, "notify", strings.TrimSuffix(n.Kind.String()+" "+about, " ")+s.sources(&n))
}

// sources says from where a notification leaves for receivers for which that is set.
func (s *Site) sources(n *snap.Notification) (text string) {
	alerts := s.card.Alerting()
	for i, r := range alerts.Receivers {
		switch {
		case !r.Source.IsValid() || !alerts.Addresses(*n, r):
		case n.Held(i):
			text += fmt.Sprintf(", not to %s: no address %v", r.Name, r.Source)
		default:
			text += fmt.Sprintf(", to %s from %v", r.Name, r.Source)
		}
	}
	return text
}

// sendOut brings a notification to everybody who is modelled.
func (s *Site) sendOut(n snap.Notification, about string) {
	alerts, watched := s.card.Alerting(), false
	for i, r := range alerts.Receivers {
		if !alerts.Addresses(n, r) || n.Held(i) {
			continue
		}
		lost, late := n.Lost(i), s.takes("notify")
		heard := !lost && late == 0
		watched = heard && s.reachesPeers(r) || watched
		f := flight{to: s.sinkAt(r), what: n, set: r, lost: lost, heard: heard, next: s.now + transit + late, ackAt: vtime.Never}
		if f.to != nil || !heard && (r.Inform || !lost) {
			s.takeOff(f, i, about)
		}
	}
	if watched {
		s.hears(n, s.now)
	}
}

// reachesPeers counts a notification that has left the card's link at the peer to which
// it goes, and says whether the monitoring manager hears of it.
func (s *Site) reachesPeers(r snap.Receiver) (watched bool) {
	if k := path.Peer(s.plan, r.To.Addr()); k >= 0 && path.ToPeer(s.plan, s.self.Network, s.pathState(), k) == snap.PathOpen {
		s.net.peers[k].Heard++
	}
	if s.monitor == nil {
		return false
	}
	at := s.monitor.cfg.Peer
	return at < 0 && !s.isolated() || at >= 0 && s.plan.Peers[at].Address.Addr() == r.To.Addr() && s.net.peers[at].Fault == snap.PathOpen
}

// takeOff puts a notification on its way: to a sink, or to anybody if it takes its time
// or is an inform that was lost, which is repeated until it gets there.
func (s *Site) takeOff(f flight, receiver int, about string) {
	if s.servers.sinks == nil {
		s.servers.sinks = new(arrivals)
	}
	k, r := s.servers.sinks, &f.set
	f.arrival = snap.Arrival{
		Subject: f.what.Kind.String(), Text: about, OID: f.what.Kind.OID(), Version: r.Version, From: r.User, Inform: r.Inform,
	}
	f.issued = s.now
	if r.Inform {
		k.informed++
		f.arrival.Key = strings.TrimPrefix(fmt.Sprintf("%s/%d/%d", s.plan.UnitName, receiver+1, k.informed), "/")
	}
	if len(k.flights) < mostFlights {
		k.flights = append(k.flights, f)
	}
}

// reach brings what had been lost to peers and to the monitoring manager at last.
func (f *flight) reach(s *Site) {
	if f.heard = true; s.reachesPeers(f.set) {
		s.hears(f.what, f.issued)
	}
}
