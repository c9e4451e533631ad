package expect

import (
	"net/netip"

	"ridethrough/sim/internal/core/snap"
)

// unitVariablesOf is what there is to see of the i-th further unit: what is seen of the
// first one without a name, behind units.NAME.
func unitVariablesOf(name string, i int, peers []string) []Variable {
	var own []Variable
	for _, part := range [][]Variable{
		supplyVariables(), unitVariables(), controlVariables(), pathVariables(), batteryVariables(), outletVariables(), cardVariables(), lampVariables(), signInVariables(), usmVariables(), networkVariables(), clockVariables(),
		firmwareVariables(), upkeepVariables(), policyVariables(), allPostVariables(), alarmVariables(), sentVariables(),
	} {
		own = append(own, part...)
	}
	for k, peer := range peers {
		own = append(own, peerVariables(peer, k)...)
	}
	for k := range own {
		own[k] = own[k].of(name, i)
	}
	return own
}

// of is v as it is at the i-th further unit.
func (v Variable) of(name string, i int) Variable {
	u := Variable{Name: "units." + name + "." + v.Name, Kind: v.Kind, Words: v.Words, Doc: v.Doc}
	if f := v.yes; f != nil {
		u.yes = func(s *snap.Site) bool { return f(s.Units[i]) }
	}
	if f := v.num; f != nil {
		u.num = func(s *snap.Site) float64 { return f(s.Units[i]) }
	}
	if f := v.code; f != nil {
		u.code = func(s *snap.Site) uint8 { return f(s.Units[i]) }
	}
	if f := v.addr; f != nil {
		u.addr = func(s *snap.Site) netip.Addr { return f(s.Units[i]) }
	}
	return u
}
