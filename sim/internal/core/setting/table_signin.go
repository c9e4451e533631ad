package setting

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// maxBanner bounds the banner: six lines of a terminal.
const maxBanner = 480

func init() {
	declare(Access,
		atOnce(span("access.idle", "idle time-out", "A session ends when nothing was typed for so long. It is real time, whatever the pace of the simulation.",
			10*vtime.Second, vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &s.SignInRules().Idle })),
		atOnce(whole("access.sessions", "sessions", "How many may be signed in over the network at the same time. The serial line is always open to one more.",
			"", 1, 16, func(s *snap.Settings, _ int) *int { return &s.SignInRules().Sessions })),
		atOnce(yesNo("access.one-administrator", "one administrator", "Yes: while an administrator is signed in no other one gets in over the network. Who signs in at the serial line takes over: the session of the other ends.",
			func(s *snap.Settings, _ int) *bool { return &s.SignInRules().OneAdministrator })),
		atOnce(yesNo("access.serial-lock", "serial line locks", "Yes: while somebody is signed in at the serial line, a second program that opens it is refused by the system (resource busy), unless it is root's. No: it takes the line over, and the session ends.",
			func(s *snap.Settings, _ int) *bool { return &s.SignInRules().SerialLock })),
		atOnce(yesNo("access.serial-stays", "serial line stays signed in", "Yes: the card does not see when its serial line is unplugged, as with a lead of three wires. The session stays until it is signed out or idle, and whoever plugs in next is in it.",
			func(s *snap.Settings, _ int) *bool { return &s.SignInRules().SerialStays })),
		atOnce(whole("access.lock-after", "failed sign-ins", "After so many of one user in a row the card does not look at that user for a while.",
			"", 1, 20, func(s *snap.Settings, _ int) *int { return &s.SignInRules().LockAfter })),
		atOnce(span("access.lock-for", "lock-out", "How long that lasts, by the card's clock. A lock-out over the network does not hold at the serial line.",
			vtime.Second, 24*vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &s.SignInRules().LockFor })),
		atOnce(whole("access.password-length", "shortest password", "Fewest characters of a password that is set from now on.",
			"", 8, 32, func(s *snap.Settings, _ int) *int { return &s.SignInRules().PasswordLeast })),
		atOnce(passwordAge()),
		atOnce(text("access.banner", "banner", "What whoever is about to sign in reads, at the serial line and over SSH; a vertical bar begins another line. Say whose the card is and who may use it, and nothing that helps a stranger.",
			maxBanner, func(s *snap.Settings, _ int) *string { return &s.SignInRules().Banner })),
	)
}

// passwordAge is how long a password serves.
func passwordAge() *Setting {
	at := func(s *snap.Settings, _ int) *int { return &s.SignInRules().PasswordDays }
	return orNone(whole("access.password-age", "age of passwords",
		"How many days a password of one of the card's own accounts serves, by the card's clock and never before that is set. Who signs in with an older one has to choose another first; public keys open as before. Where nobody knows when a password was set it counts from when this is set. From alerts.expiry-days before the end on the card warns. 0 is never.",
		"days", 0, 3650, at), "never", func(s *snap.Settings, i int) bool { return *at(s, i) == 0 })
}
