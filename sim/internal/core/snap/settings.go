package snap

import (
	"net/netip"
	"reflect"
	"slices"
)

// AddressMode says how the card comes to its address.
type AddressMode string

// Address modes.
const (
	AddressDHCP  AddressMode = "dhcp"
	AddressFixed AddressMode = "fixed"
)

// Settings are what a technician can change and the card keeps.
type Settings struct {
	// Name, Location and Contact serve sysName, sysLocation and sysContact;
	// UPSName and Attached serve upsIdentName and upsIdentAttachedDevices.
	Name, Location, Contact string
	UPSName, Attached       string

	Mode    AddressMode
	Fixed   netip.Prefix // address and mask, used in fixed mode
	Gateway netip.Addr   // may be invalid: none

	// Zone is the rule of the card's time zone; see [vtime.Zone]. Empty: UTC.
	Zone string
	Time TimeSettings
	// Schedule is what the card switches by that clock.
	Schedule Schedule

	// An empty community switches that access off.
	ReadCommunity, WriteCommunity Secret

	Conformance Conformance      // how much of RFC 1628 the agent has
	SignIn      *SignInRules     // see [Settings.SignInRules]; never nil in a clone
	Links       *LinkSettings    `json:",omitempty"` // nil: as a new card has them
	Managers    *ManagerSettings `json:",omitempty"` // nil: as a new card has them

	// Groups are the outlet groups of the unit: neither more nor fewer than it has.
	// The slice that is in force is never changed in place.
	Groups  []OutletGroup
	Restart RestartGate
	Alerts  *AlertSettings `json:",omitempty"` // nil: those of [FactoryAlerts]

	// Upkeep is that of [Settings.Upkept]; nil: as the factory has it.
	Upkeep       *Upkeep        `json:",omitempty"`
	Surroundings Surroundings   `json:",omitzero"`
	Relays       []RelaySetting `json:",omitempty"`
}

// Clone is a copy that shares nothing with s, so that it may be changed.
func (s *Settings) Clone() *Settings {
	c := *s
	c.SignIn = s.SignInRules().clone()
	c.Links = s.Links.clone()
	c.Groups = slices.Clone(s.Groups)
	if s.Alerts != nil {
		c.Alerts = s.Alerts.Clone()
	}
	c.Time, c.Schedule = s.Time.clone(), s.Schedule.clone()
	if s.Upkeep != nil {
		u := *s.Upkeep
		c.Upkeep = &u
	}
	c.Managers = s.Managers.clone()
	c.Surroundings, c.Relays = s.Surroundings.clone(), slices.Clone(s.Relays)
	return &c
}

// Same says whether both settle the same. A secret and what stands in its place
// under the same text are the same.
func (s *Settings) Same(t *Settings) bool { return reflect.DeepEqual(plainly(s), plainly(t)) }

// plainly is a copy without the marks of what stands in for secrets.
func plainly(s *Settings) *Settings {
	c := s.Clone()
	c.Alerts = s.Alerts.Clone()
	eachSecret(reflect.ValueOf(c).Elem(), func(x *Secret) { x.standIn = false })
	return c
}

func eachSecret(v reflect.Value, do func(*Secret)) {
	if x, ok := v.Addr().Interface().(*Secret); ok {
		do(x)
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				eachSecret(v.Field(i), do)
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			eachSecret(v.Index(i), do)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			eachSecret(v.Elem(), do)
		}
	}
}
