package snap

import "ridethrough/sim/internal/core/vtime"

// LinkMode is how one end of a network link comes to its speed and duplex.
type LinkMode string

// Modes: auto negotiates (IEEE 802.3 clause 28), the others are fixed and do not.
const (
	LinkAuto    LinkMode = "auto"
	Link10Half  LinkMode = "10-half"
	Link10Full  LinkMode = "10-full"
	Link100Half LinkMode = "100-half"
	Link100Full LinkMode = "100-full"
)

// LinkModes are all of them.
var LinkModes = []string{string(LinkAuto), string(Link10Half), string(Link10Full), string(Link100Half), string(Link100Full)}

// Fixed says whether an end in that mode does not negotiate, and with what speed in
// Mbit/s and duplex it then works.
func (m LinkMode) Fixed() (mbit int, half, fixed bool) {
	switch m {
	case Link10Half, Link10Full:
		return 10, m == Link10Half, true
	case Link100Half, Link100Full:
		return 100, m == Link100Half, true
	}
	return 100, false, false
}

// MaxVLAN is the highest number of a VLAN (IEEE 802.1Q: 0 and 4095 are none).
const MaxVLAN = 4094

// Port is the card's network port as the port itself knows it. Nil in [Card] means the
// one of [Card.PortNow]. It never changes in place.
type Port struct {
	Mode LinkMode // as set
	Mbit int      // speed; 0: there is no agreement on one, and so no link
	Half bool     // half duplex
	VLAN int      // that frames leave with; 0: with none

	// Counted since the agent started, as RFC 2863 and RFC 3635 have them. Errors are
	// frames that arrived damaged, Late collisions of frames that were sent; a frame
	// with one is an error of sending too.
	InErrors, OutErrors, LateCollisions uint32
}

// goodPort is one that has negotiated the most that it can.
var goodPort = Port{Mode: LinkAuto, Mbit: 100}

// PortNow is never nil.
func (c *Card) PortNow() *Port { return c.Port.OrGood() }

// OrGood is p, or the port that everybody takes for granted if it is nil.
func (p *Port) OrGood() *Port {
	if p == nil {
		return &goodPort
	}
	return p
}

// Carriage is how a link carries what goes over it, each way by itself. The zero value
// is a perfect link.
type Carriage struct {
	LossPct float64    // damaged and so lost
	Delay   vtime.Tick // on the way
	Jitter  vtime.Tick // up to so much more
	// BurstLossPct is lost of what comes as more than the BurstOver-th packet within
	// BurstWithin, of both ways together.
	BurstLossPct float64
	BurstOver    int
	BurstWithin  vtime.Tick
}

// Perfect says whether nothing befalls what goes over the link.
func (c *Carriage) Perfect() bool { return c.LossPct <= 0 && c.BurstLossPct <= 0 && !c.Slow() }

// Slow says whether the way takes any time.
func (c *Carriage) Slow() bool { return c.Delay > 0 || c.Jitter > 0 }

// Damage is why a packet did not arrive.
type Damage uint8

// Damages.
const (
	NoDamage     Damage = iota
	DamageOnLine        // it arrives damaged: the receiver counts an error
	DamageInBurst
)

// Befalls is what befalls a packet for which throw, of [0, 1), was drawn, and that
// came in a burst or not. What is damaged on the line cannot be lost in a burst too.
func (c *Carriage) Befalls(throw float64, burst bool) Damage {
	line := c.LossPct / 100
	switch {
	case throw < line:
		return DamageOnLine
	case burst && throw < line+float64((1-line)*c.BurstLossPct)/100:
		return DamageInBurst
	}
	return NoDamage
}

// Burst says when packets come in bursts. Recent holds the times of the last ones; its
// zero value is ready.
type Burst struct{ recent []vtime.Tick }

// Bears notes a packet at now and says whether more than over came within a time, it
// included. now never goes back.
func (b *Burst) Bears(now vtime.Tick, over int, within vtime.Tick) (burst bool) {
	from := 0
	for from < len(b.recent) && (b.recent[from] <= now-within || len(b.recent)-from > over) {
		from++
	}
	b.recent = append(b.recent[:0], b.recent[from:]...)
	burst = len(b.recent) >= over
	b.recent = append(b.recent, now)
	return burst
}

// Counts adds what a packet that was lost leaves in the counters of the port: into the
// card or out of it, on a link whose ends differ in duplex or do not. On a link with
// such a mismatch the end with full duplex sees frames that were cut short, the one
// with half duplex collisions after 512 bit times (IEEE 802.3 clause 4.2.3.2.2). What
// is lost in a burst without a mismatch is lost elsewhere, and no port counts it.
func (p *Port) Counts(d Damage, in, differs bool, n uint32) {
	switch {
	case d == DamageOnLine && in, d == DamageInBurst && differs && in:
		p.InErrors += n
	case d == DamageInBurst && differs && p.Half:
		p.OutErrors += n
		p.LateCollisions += n
	}
}
