package plan

import "ridethrough/sim/internal/core/snap"

// Stranger says why a sink does not take what the card sends to it as r, "" if it
// does. Whom a sink without users takes for one is decided where keys are.
func (v *Server) Stranger(r snap.Receiver) string {
	if r.Version != "v3" {
		if v.Community != "" && r.Community.Reveal() != v.Community {
			return "another community"
		}
		return ""
	}
	for i := range v.Users {
		if v.Users[i].Name == r.User {
			return ""
		}
	}
	if len(v.Users) > 0 {
		return "nobody knows the user"
	}
	return ""
}
