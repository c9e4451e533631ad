package site

import (
	"fmt"
	"net/netip"
	"slices"

	"ridethrough/sim/internal/core/path"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// network is the site's network: its switches, and who reaches the card.
type network struct {
	leadOut  bool // of the card
	noRouter bool
	upAt     []vtime.Tick // of each switch: when it forwards; Never: it has no power
	state    []snap.SwitchState
	peers    []snap.PeerPath
	dead     uint64 // switches that forward nothing
	down     uint64 // peers that are not there
}

func newNetwork(p *plan.Plan) network {
	return network{
		upAt: make([]vtime.Tick, len(p.Switches)), state: make([]snap.SwitchState, len(p.Switches)),
		peers: make([]snap.PeerPath, len(p.Peers)),
	}
}

// plug puts the card's network lead in or pulls it out.
func (s *Site) plug(now vtime.Tick, in bool) {
	s.note("bench", "network lead "+snap.Either(in, "in", "out"))
	s.net.leadOut = !in
	s.linkCard(now)
}

// linkCard gives the card's port a link if the lead is in and the switch at its
// other end has power.
func (s *Site) linkCard(now vtime.Tick) {
	own := s.self.Network.Switch
	agreed := s.traffic == nil || s.traffic.link.agreed.Mbit > 0
	s.card.Plug(now, agreed && !s.net.leadOut && (own == plan.Core || s.net.state[own] != snap.SwitchDead))
}

// changeNet is the timeline's.
func (s *Site) changeNet(now vtime.Tick, n *plan.NetChange) {
	switch {
	case n.Offer.IsValid():
		s.noteOnce("bench", "the address server has "+n.Offer.String()+" for the card")
	case n.Claim.IsValid():
		s.noteOnce("bench", "another machine takes "+n.Claim.String())
	case n.Release.IsValid():
		s.noteOnce("bench", "another machine gives up "+n.Release.String())
	}
	if n.Gateway.IsValid() {
		s.noteOnce("bench", "the address server tells the gateway "+n.Gateway.String())
	}
	if n.Router != "" {
		s.noteOnce("bench", "router "+n.Router)
		s.net.noRouter = n.Router == "absent"
	}
	s.card.ChangeNet(now, n)
	if s.isolated() {
		s.isolate()
	}
	if n.Link != nil {
		s.changeLink(now, n.Link)
	}
}

// runSwitches brings every switch in line with its outlets. At tick 0 they have
// long been up.
func (s *Site) runSwitches(now vtime.Tick) {
	n, dead := &s.net, uint64(0)
	for i := range s.plan.Switches {
		w := &s.plan.Switches[i]
		switch live := w.Group < 0 || s.groups[w.Group].on; {
		case !live:
			n.upAt[i] = vtime.Never
		case n.upAt[i] == vtime.Never:
			n.upAt[i] = now + w.Boot
		}
		state := snap.SwitchForwards
		if n.upAt[i] > now {
			state = snap.SwitchStarting
		}
		if n.upAt[i] == vtime.Never {
			state = snap.SwitchDead
		}
		if state != snap.SwitchForwards {
			dead |= 1 << i
		}
		if n.state[i] != state {
			told := n.state[i] != snap.SwitchDead || now > 0
			if n.state[i] = state; told && s.leads() {
				s.note("switch "+w.Name, state.String())
			}
		}
	}
	if n.dead != dead {
		n.dead = dead
		s.touch()
	}
	if len(s.plan.Switches) > 0 {
		s.linkCard(now)
		s.card.CutServer(s.serverCut())
	}
}

// switchesDue is when a switch next begins to forward.
func (s *Site) switchesDue(now vtime.Tick) vtime.Tick {
	next := vtime.Never
	for i, at := range s.net.upAt {
		if s.net.state[i] == snap.SwitchStarting && at > now {
			next = min(next, at)
		}
	}
	return next
}

// runPaths finds out which peers reach the card.
func (s *Site) runPaths() {
	if len(s.plan.Peers) == 0 {
		return
	}
	n := &s.net
	n.down = 0
	for i := range s.plan.Peers {
		if h := s.plan.Peers[i].Host; h >= 0 && s.hosts[h].state != snap.HostRunning && s.hosts[h].state != snap.HostStopping {
			n.down |= 1 << i
		}
	}
	for i := range s.plan.Peers {
		fault := path.ToPeer(s.plan, s.self.Network, s.pathState(), i)
		if n.peers[i].Fault == fault {
			continue
		}
		n.peers[i].Fault = fault
		s.note("peer "+s.plan.Peers[i].Name, fault.String())
	}
}

func (s *Site) pathState() path.State {
	address, link := s.card.Address()
	return path.State{
		Running: s.card.Running(), Link: link, Address: address,
		Dead: s.net.dead, Down: s.net.down, NoRoute: s.net.noRouter, VLAN: s.isolated(),
	}
}

// reached says whether the modelled shutdown manager reaches the card.
func (s *Site) reached() bool {
	return s.reachedFrom(s.plan.Policy.Peer)
}

// reachedFrom says whether software on the machine at reaches the card; -1 is one that
// always does while the card has an address.
func (s *Site) reachedFrom(at int) bool {
	return s.card.Reachable() && !s.isolated() && (at < 0 || s.net.peers[at].Fault == snap.PathOpen)
}

// viewNetwork is what is shown of it.
func (s *Site) viewNetwork(v *snap.Network) {
	v.Dead, v.Down, v.NoRouter = s.net.dead, s.net.down, s.net.noRouter
	if v.Lost, v.Link, v.Duplex, v.VLAN = 0, nil, false, false; s.traffic != nil {
		l := &s.traffic.link
		v.Lost, v.Link, v.Duplex, v.VLAN = l.lost, l.now, l.agreed.Differ(), l.other
	}
	copy(v.Peers, s.net.peers)
	copy(v.Switches, s.net.state)
}

// ping is what the card finds out about an address.
func (s *Site) ping(c snap.Command) snap.Result {
	addr, err := parsePeer(s.plan, c.Text)
	if err != nil {
		return snap.Result{Status: snap.WrongValue, Reason: err.Error()}
	}
	tells, answered := s.pinged(addr)
	return snap.Result{Reason: addr.String() + ": " + tells, Amiss: !answered}
}

// pinged is what the card finds out about addr, and whether anything answered.
func (s *Site) pinged(addr netip.Addr) (tells string, answered bool) {
	fault := path.To(s.plan, s.self.Network, s.pathState(), addr)
	now, _ := s.card.Address()
	there, running := s.machineAt(addr, now)
	switch {
	case fault == snap.PathNoAddress && addr.Is6() && now.V6State == snap.V6Off:
		return "the card has no IPv6 address: reach.ipv6 is off", false
	case fault == snap.PathOpen && !there:
		return "packets pass there and back, but the scenario says of no machine that it has this address", false
	case fault == snap.PathOpen && !running:
		fault = snap.PathPeerDown
	}
	if fault == snap.PathOpen {
		return s.echoes()
	}
	return fault.Tells(), false
}

// machineAt says whether the scenario has a machine with that address, and whether it
// runs. Of a peer the path says so.
func (s *Site) machineAt(addr netip.Addr, now snap.Address) (there, running bool) {
	n := s.self.Network
	if addr == n.Router || addr == n.Router6 {
		return true, !s.net.noRouter
	}
	if path.Peer(s.plan, addr) >= 0 || addr == now.Prefix.Addr() || addr == now.V6.Addr() || slices.Contains(n.Taken, addr) {
		return true, true
	}
	for i := range s.servers.list {
		if v := &s.servers.list[i]; v.cfg.Address == addr {
			there, running = true, running || s.atWork(v)
		}
	}
	for i := range s.plan.TimeServers {
		if t := &s.plan.TimeServers[i]; t.Address == addr {
			there, running = true, running || t.Group < 0 || s.groups[t.Group].on
		}
	}
	for i := range s.plan.LoginServers {
		if at, err := netip.ParseAddrPort(s.plan.LoginServers[i].At); err == nil && at.Addr() == addr {
			return true, true
		}
	}
	return there, running
}

// pings is how many echo requests one ping sends, a second apart, so that they come in
// no burst: common practice.
const pings = 5

// echoes is what comes of those to a machine that packets reach. Their time is not
// waited for. One answer of them all is one.
func (s *Site) echoes() (tells string, answered bool) {
	n := 0
	for range pings {
		if !s.losesAlone("ping", outward) && !s.losesAlone("ping", inward) {
			n++
		}
	}
	switch n {
	case pings:
		return snap.PathOpen.Tells(), true
	case 0:
		return snap.PathPeerDown.Tells(), false
	}
	return fmt.Sprintf("answers to %d of %d: packets get lost on the way. Look at the lead, and at speed and duplex at both of its ends", n, pings), true
}

// askLease has somebody outside send what the card has to say to address servers.
func (s *Site) askLease() {
	for _, q := range s.card.LeaseQueries() {
		s.emit(snap.Effect{Kind: snap.EffectLease, Lease: &q})
	}
}

func (s *Site) leaseReply(c snap.Command) snap.Result {
	if c.Lease == nil {
		return snap.Result{Status: snap.WrongValue, Reason: "no answer in it"}
	}
	s.card.LeaseReply(s.now, c.Lease)
	return snap.Result{}
}

// parsePeer is an address, or the name of a peer, which the card's name servers
// know.
func parsePeer(p *plan.Plan, text string) (netip.Addr, error) {
	for i := range p.Peers {
		if p.Peers[i].Name == text {
			return p.Peers[i].Address.Addr(), nil
		}
	}
	addr, err := netip.ParseAddr(text)
	if err != nil || addr.Zone() != "" {
		return addr, fmt.Errorf("there is no machine %q: type an address such as 192.0.2.1", text)
	}
	return addr, nil
}
