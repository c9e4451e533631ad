package sim

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/model"
)

// Object is one object that the card's SNMP agent serves.
type Object struct {
	Name   string // the standard's
	OID    string // numeric; with the instance if there is a Value
	Syntax string // as a MIB module writes it
	Units  string // the standard's UNITS clause, "" if it has none
	Access string // MAX-ACCESS: "read-only", "read-write", "not-accessible"
	Level  string // the least conformance level of RFC 1628 that asks for it; "" if none does, or it is of another module
	Label  string // for people
	Value  string // for people, when the scenario starts; "" without a scenario
}

// Objects is every object that an agent can serve, in the order of object
// identifiers.
func Objects() []Object {
	all := model.All()
	list := make([]Object, len(all))
	for i, x := range all {
		list[i] = object(x)
	}
	return list
}

// Objects is every instance that the agent serves when s starts, as its quirks have
// it.
func (s *Scenario) Objects() ([]Object, error) {
	_, first, err := s.begin(nil, false)
	if err != nil {
		return nil, err
	}
	var list []Object
	for _, x := range model.Served(first.Site.Card.Settings.Conformance) {
		list = append(list, instances(x, &first.Site.Device)...)
	}
	return list, nil
}

func instances(x *model.Variable, dev *snap.Device) []Object {
	v := model.View{Dev: dev, Now: dev.Tick, Quirks: dev.Card.Quirks}
	var list []Object
	for row := range x.Rows(&v) {
		o := object(x)
		o.OID = x.OID.Child(x.Instance(&v, row)).String()
		o.Value = x.Say(x.At(&v, row))
		list = append(list, o)
	}
	return list
}

func object(x *model.Variable) Object {
	return Object{
		Name: x.Name, OID: x.OID.String(), Syntax: x.Syntax.String(),
		Units: x.Units, Access: x.Access.String(), Level: x.Levels.Least(), Label: x.Label,
	}
}
