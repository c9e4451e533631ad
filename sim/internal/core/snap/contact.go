package snap

// ContactState is what the card makes of a dry contact at one of its probes.
type ContactState uint8

// Contact states.
const (
	ContactNormal ContactState = iota
	ContactActive              // what it reports is there
	ContactFault               // its supervised loop is cut
	ContactLost                // the cable of the probe is out
)

// String is a word for s.
func (s ContactState) String() string {
	return nameOf([]string{"normal", "active", "fault", "lost"}, int(s))
}

// MaxContacts is how many contacts a card can have: a few at each probe.
const MaxContacts = ContactInputs * MaxProbes

// Contacts are the states of the card's contacts, in the order of the roster.
type Contacts [MaxContacts]ContactState

// RosterContact is one dry contact: free of voltage, open or closed.
type RosterContact struct {
	ContactSetting
	At int // index of the probe that it hangs on
}
