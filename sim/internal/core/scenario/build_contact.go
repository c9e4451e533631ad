package scenario

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// buildContacts gives p its contacts. Their names are unique in the file.
func (b *builder) buildContacts(t *probeTable, p *plan.Probe) error {
	for i := range t.Contacts {
		c := &t.Contacts[i]
		if err := b.newName(b.contacts, c.at("name"), "the contacts", c.Name); err != nil {
			return err
		}
		p.Contacts = append(p.Contacts, plan.Contact{Name: c.Name, Closes: c.Rests == "open", Supervised: c.Supervised})
		if t.Paired {
			b.told.Contacts = append(b.told.Contacts, snap.ContactSetting{
				Name: c.Name, Probe: t.Name, Input: i + 1, Rests: snap.Rest(or(c.SetAs, c.Rests)), Supervised: c.Supervised,
				DebounceMS: int(c.Debounce / vtime.Millisecond), Severity: snap.Severity(c.Severity),
			})
		}
	}
	return nil
}

func (b *builder) contactNames() []string {
	var names []string
	for i := range b.plan.Probes {
		for _, c := range b.plan.Probes[i].Contacts {
			names = append(names, c.Name)
		}
	}
	return names
}

func (b *builder) contactAction(c *wireTable) (plan.Action, error) {
	for i, name := range b.contactNames() {
		if name == c.Name {
			wire := map[string]plan.Wire{"open": plan.WireOpen, "closed": plan.WireClosed, "cut": plan.WireCut}[c.Is]
			return plan.Action{Kind: plan.ActContact, Contact: i, Wire: wire, Change: plan.Change{Lasts: or(c.Bounces, vtime.Tick(0))}}, nil
		}
	}
	return plan.Action{}, b.missing(c.at("name"), "contact", c.Name, b.contactNames())
}
