package card

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// packed are settings with their secrets, which show in no other encoding.
type packed struct {
	Settings *snap.Settings    `json:"settings"`
	Secrets  map[string]string `json:"secrets,omitempty"` // by path
	Keys     map[string][]byte `json:"keys,omitempty"`    // likewise: in the place of pass phrases
}

// pack is a section as it is kept.
func pack(field any) json.RawMessage {
	switch x := field.(type) {
	case **snap.Settings:
		return packSettings(*x)
	case *[]snap.Account:
		made := make([]snap.Account, len(*x))
		for i, a := range *x {
			made[i] = a.Made()
		}
		return encode(made)
	}
	return encode(field)
}

func packSettings(s *snap.Settings) json.RawMessage {
	s = s.Clone()
	s.Seal()
	p := packed{Settings: s, Secrets: map[string]string{}, Keys: map[string][]byte{}}
	for _, r := range setting.Every(s) {
		switch {
		case !r.Secret:
		case !r.Keyed():
			p.Secrets[r.Path] = r.Get(s)
		case r.Get(s) != "":
			p.Keys[r.Path] = r.Key(s)
		}
	}
	return encode(p)
}

// unpack reads what pack wrote, or a section as [Redact] leaves it.
func unpack(text []byte, field any) error {
	s, ok := field.(**snap.Settings)
	if !ok {
		reflect.ValueOf(field).Elem().SetZero() // or the decoder would mix entries of lists with those of before
		return snap.DecodeStrict(text, field)
	}
	p := packed{Settings: (*s).Clone()}
	if err := snap.DecodeStrict(text, &p); err != nil {
		return err
	}
	if p.Settings == nil {
		return errors.New("no settings in it")
	}
	for _, path := range slices.Sorted(maps.Keys(p.Secrets)) {
		r, err := setting.Find(p.Settings, path)
		if err == nil {
			err = r.Set(p.Settings, p.Secrets[path])
		}
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
	}
	if err := p.unlock(); err != nil {
		return err
	}
	*s = p.Settings
	return nil
}

// unlock puts the keys in their places. Phrases that an earlier version has kept are
// tied to the protocols that they were used with.
func (p *packed) unlock() error {
	for _, path := range slices.Sorted(maps.Keys(p.Keys)) {
		r, err := setting.Find(p.Settings, path)
		switch {
		case err != nil:
			return fmt.Errorf("%s: %w", path, err)
		case !r.Keyed():
			return fmt.Errorf("%s: a key has no place there", path)
		}
		r.PutKey(p.Settings, p.Keys[path])
	}
	for _, u := range p.Settings.Manager().Users {
		if !u.Sound() {
			return fmt.Errorf("access.snmp-user.%s: protocols or keys that no card makes", u.Name)
		}
	}
	p.Settings.Seal()
	return nil
}

// Modern is what brings raw, which has passed [CheckMemory], into the form of today; nil
// if it is. Earlier versions kept the pass phrases of SNMPv3 themselves.
func Modern(raw *snap.Memory) *snap.Keep {
	text, p := raw.Sections["settings"], packed{Settings: new(snap.Settings)}
	if text == nil || snap.DecodeStrict(text, &p) != nil {
		return nil
	}
	for _, path := range slices.Sorted(maps.Keys(p.Secrets)) {
		if r, err := setting.Find(p.Settings, path); err == nil && r.Keyed() {
			s := new(snap.Settings)
			if unpack(text, &s) != nil {
				return nil
			}
			return &snap.Keep{Sections: map[string]json.RawMessage{"settings": packSettings(s)}}
		}
	}
	return nil
}
