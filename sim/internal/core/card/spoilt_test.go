package card

import (
	"encoding/json"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
)

// TestSpoiltLease: a lease in the memory that no card could have had is dropped with
// an entry in the journal, also in the record of a session; the card starts.
func TestSpoiltLease(t *testing.T) {
	const good = `{"address":"192.0.2.10/24","gateway":"192.0.2.1","until":1780000000000}`
	for text, holds := range map[string]bool{
		good:   true,
		"null": true,
		`{"address":"192.0.2.10/24","gateway":"","until":1780000000000}`:          true,
		`{"address":"224.0.0.1/8","gateway":"192.0.2.1","until":1780000000000}`:   false,
		`{"address":"2001:db8::1/64","gateway":"","until":1780000000000}`:         false,
		`{"address":"192.0.2.10/24","gateway":"::1","until":1780000000000}`:       false,
		`{"address":"192.0.2.10/24","gateway":"","until":-5}`:                     false,
		`{"address":"192.0.2.10/24","gateway":"","until":9223372036854775807}`:    false,
		`{"address":"","gateway":"","until":1780000000000}`:                       false,
		`{"address":"the desk","gateway":"192.0.2.1","until":1780000000000}`:      false,
		`{"address":"192.0.2.10/24","gateway":"","until":17,"of":"another card"}`: false,
		`7`:           false,
		`["a", "b"]`:  false,
		`{"address":`: false,
	} {
		m := &snap.Memory{Sections: map[string]json.RawMessage{"lease": json.RawMessage(text)}}
		for _, m := range []*snap.Memory{m, Redact(m, func(*snap.Settings) {})} {
			c, k := waking(t, m)
			said := false
			for _, e := range c.journal.entries {
				said = said || strings.Contains(e.Text, "the memory had a lease that makes no sense: dropped")
			}
			if said == holds || (c.kept.Lease != nil) != (holds && text != "null") {
				t.Errorf("%s: said so: %v, lease %+v", text, said, c.kept.Lease)
			}
			if dropped := string(k.Sections["lease"]); !holds && dropped != "null" {
				t.Errorf("%s: the memory gets %s", text, dropped)
			}
		}
	}
}
