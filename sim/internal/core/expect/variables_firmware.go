package expect

import (
	"slices"

	"ridethrough/sim/internal/core/snap"
)

var slotWords = []string{"a", "b"}

func spareWords() []string {
	return []string{"empty", string(snap.SlotNew), string(snap.SlotGood), string(snap.SlotFailed)}
}

// firmwareVariables are the slots of the card.
func firmwareVariables() []Variable {
	of := func(s *snap.Site) *snap.Firmware {
		if s.Card.Firmware == nil {
			return snap.FirstFirmware()
		}
		return s.Card.Firmware
	}
	return []Variable{
		word("card.slot", "slot whose firmware the card runs: a holds what it came with until that is replaced", slotWords,
			func(s *snap.Site) uint8 { return uint8(of(s).Running) }),
		word("card.spare", "what is in the other slot: new has never run", spareWords(),
			func(s *snap.Site) uint8 { return indexOf(spareWords(), string(of(s).Spare().State)) }),
		yesNo("card.trying", "it has been switched to other firmware, which has not passed its own test yet",
			func(s *snap.Site) bool { return of(s).Trying }),
		yesNo("card.uploading", "an image is on its way",
			func(s *snap.Site) bool { return s.Card.Upload != nil }),
		count("card.images_taken", "images of firmware that it took",
			func(s *snap.Site) float64 { return float64(of(s).Loads) }),
		count("card.images_refused", "images that it refused, those that were cut off among them",
			func(s *snap.Site) float64 { return float64(of(s).Refusals) }),
		count("card.returns", "times that it went back by itself from firmware that did not pass its own test",
			func(s *snap.Site) float64 { return float64(of(s).Returns) }),
		count("card.host_keys_made", "times that the host key of its SSH server was made anew: clients that know the one before refuse it",
			func(s *snap.Site) float64 { return float64(s.Card.Made()) }),
		yesNo("card.engine_id_new", "the firmware that runs has another snmpEngineID than the one before: managers with SNMPv3 do not know it",
			func(s *snap.Site) bool { return s.Card.OtherEngine() }),
		yesNo("card.label_opens", "the password on its label opens it: whoever has seen the card can sign in",
			func(s *snap.Site) bool {
				return slices.ContainsFunc(s.Card.Accounts, func(a snap.Account) bool { return a.Label })
			}),
	}
}
