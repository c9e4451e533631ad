package snap

// USMFault is why a card that speaks SNMPv3 gives a manager nothing.
type USMFault uint8

// Faults, in the order in which RFC 3414 section 3.2 looks for them; then what the
// access control of RFC 3415 refuses.
const (
	USMOpen             USMFault = iota // there is none
	USMUnknownUser                      // usmStatsUnknownUserNames
	USMUnsupportedLevel                 // usmStatsUnsupportedSecLevels: the user has no keys for it
	USMWrongDigest                      // usmStatsWrongDigests: another authentication password
	USMNotDecrypted                     // usmStatsDecryptionErrors, of a card that reports it
	USMGarbled                          // snmpInASNParseErrs: another privacy password, which the standard leaves unanswered
	USMNotPermitted                     // authorizationError: less protected than the user has to be, or outside the view

	USMFaults // their number
)

var usmNames = []string{
	"open", "unknown user", "unsupported security level", "wrong digest", "decryption error",
	"what is encrypted makes no sense", "not authorised",
}

// String is what the journal says.
func (f USMFault) String() string { return nameOf(usmNames, int(f)) }

// USMStats counts requests of modelled managers that a card has refused since its agent
// started, by what is wrong with them. It is never changed in place; nil is none.
type USMStats [USMFaults]uint32

// Of is how many requests had f.
func (u *USMStats) Of(f USMFault) uint32 {
	if u == nil {
		return 0
	}
	return u[f]
}
