package plan

import "slices"

// All are the plans of all units of the site, p first.
func (p *Plan) All() []*Plan { return append([]*Plan{p}, p.Units...) }

// Alone is the unit of p with that number as it is when the others are dead: whatever
// they feed hangs on the mains as far as it is concerned, and a machine with a supply of
// its own needs no other. Nothing happens to it, and nothing is expected. Of a plan with
// one unit it is p.
func (p *Plan) Alone(unit int) *Plan {
	if len(p.Units) == 0 {
		return p
	}
	of := p
	if unit > 0 {
		of = p.Units[unit-1]
	}
	a := *of
	a.Units, a.Unit, a.UnitName, a.SharedSource = nil, 0, "", false
	a.Entries, a.Expects = nil, nil
	a.Groups, a.Hosts = slices.Clone(of.Groups), slices.Clone(of.Hosts)
	for i := range a.Groups {
		a.Groups[i].FromMains, a.Groups[i].Unit = !of.Feeds(i), 0
	}
	for i := range a.Hosts {
		h := &a.Hosts[i]
		own := slices.DeleteFunc(slices.Clone(h.Groups), func(g int) bool { return !of.Feeds(g) })
		if len(own) > 0 {
			h.Groups, h.Supplies = own, min(h.Supplies, len(own))
		}
	}
	return &a
}
