package plan

// Fleet is many sites of one plan, which differ by what is in [Member].
type Fleet struct {
	Count int
	Ports bool // a port each on one address; else an address each with one port
	// Files are further scenarios, each with its own sites.
	Files []FleetFile
}

// FleetFile is a scenario in its own file, played by Count sites.
type FleetFile struct {
	Line, Column int // where it is named, counted from 1
	Path         string
	Count        int
}

// Member is what one site of a fleet has of its own. A site that is no part of a
// fleet has it all from its plan.
type Member struct {
	Number  int // from 1; 0 outside of a fleet
	Seed    uint64
	Card    Card
	Network *Network // devices of a fleet share it
	Entries []Entry  // those of the plan that apply to it
}

// Self is the plan's own member.
func (p *Plan) Self() *Member {
	return &Member{Seed: p.Seed, Card: p.Card, Network: &p.Network, Entries: p.Entries}
}

// Range is device numbers from First to Last, both included.
type Range struct{ First, Last int }
