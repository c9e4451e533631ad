package expect

import "ridethrough/sim/internal/core/snap"

// usmVariables are what the card's agent refused to modelled managers.
func usmVariables() []Variable {
	refused := func(name, doc string, f snap.USMFault) Variable {
		return count("card.usm."+name, "requests of modelled managers that the card refused since its agent started: "+doc,
			func(s *snap.Site) float64 { return float64(s.Card.USM.Of(f)) })
	}
	return []Variable{
		refused("unknown_users", "it has no such user (usmStatsUnknownUserNames)", snap.USMUnknownUser),
		refused("unsupported_levels", "the user has no keys for their level (usmStatsUnsupportedSecLevels)", snap.USMUnsupportedLevel),
		refused("wrong_digests", "another authentication password or protocol (usmStatsWrongDigests)", snap.USMWrongDigest),
		refused("decryption_errors", "another privacy password or protocol, if it reports that (usmStatsDecryptionErrors)", snap.USMNotDecrypted),
		refused("garbled", "the same if it does not (snmpInASNParseErrs)", snap.USMGarbled),
		refused("not_authorised", "less protected than the user has to be, or outside its view (authorizationError)", snap.USMNotPermitted),
	}
}

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
