package journal

import (
	"fmt"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// Veil puts a name in the place of every secret of one session: the same one for
// the same secret, so that what is compared stays the same when the journal is
// replayed, and nothing of it can be guessed from the name. Its zero value is ready.
type Veil struct {
	open  map[string]bool
	names map[string]string
}

// Leave lets a secret show that is none: what follows from the seed, which stands
// in the journal. A replay derives it again and must find the same.
func (v *Veil) Leave(derived string) {
	if v.open == nil {
		v.open = map[string]bool{}
	}
	v.open[derived] = true
}

// Name is what stands for secret, 10 octets or more of plain ASCII; "" for none.
func (v *Veil) Name(secret string) string {
	if secret == "" || v.open[secret] {
		return secret
	}
	name, ok := v.names[secret]
	if !ok {
		name = fmt.Sprintf("(hidden %d)", len(v.names)+1)
		if v.names == nil {
			v.names = map[string]string{}
		}
		v.names[secret] = name
	}
	return name
}

// Settings puts names into s.
func (v *Veil) Settings(s *snap.Settings) {
	for _, ref := range setting.Every(s) {
		ref.Veil(s, v.Name)
	}
}

// Entry is e with names in it; e stays as it is.
func (v *Veil) Entry(e engine.Entry) engine.Entry {
	if e.Command.Settings != nil {
		e.Command.Settings = e.Command.Settings.Clone()
		v.Settings(e.Command.Settings)
	}
	if a := e.Command.Account; a != nil {
		hidden := *a
		hidden.Salt, hidden.Verifier = nil, nil // nobody signs in while a session is repeated
		e.Command.Account = &hidden
	}
	return e
}
