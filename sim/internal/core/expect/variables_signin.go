package expect

import "ridethrough/sim/internal/core/snap"

func signInVariables() []Variable {
	return []Variable{
		count("sign_ins.accepted", "sign-ins at the card that were accepted",
			func(s *snap.Site) float64 { return float64(s.SignIns.Accepted) }),
		count("sign_ins.refused", "sign-ins that were refused, for whatever reason",
			func(s *snap.Site) float64 { return float64(s.SignIns.Refused) }),
		count("sign_ins.fallback", "those accepted by the card itself because no server answered",
			func(s *snap.Site) float64 { return float64(s.SignIns.Fallback) }),
		count("sign_ins.lockouts", "times that a user was locked out",
			func(s *snap.Site) float64 { return float64(s.SignIns.Lockouts) }),
		count("sign_ins.unattended", "sessions that are open now and that people of the timeline have left without signing out",
			func(s *snap.Site) float64 { return float64(s.SignIns.Unattended) }),
		word("sign_ins.last", "how the latest sign-in of the timeline ended", wordsFrom(snap.SignInNone, snap.SignInNobody, snap.SignInEnd.String),
			func(s *snap.Site) uint8 { return uint8(s.SignIns.Last) }),
		number("sign_ins.last_took_s", "how long servers kept it waiting, in seconds",
			func(s *snap.Site) float64 { return s.SignIns.Took.Seconds() }),
		count("card.sessions", "who is signed in at the card now",
			func(s *snap.Site) float64 { return float64(len(s.Card.Sessions)) }),
	}
}
