package snap

// What is what an event tells, for those who decide by it: studies, reports, budgets.
// The text of an event is for people, and may be worded anew at any time. Fields that
// its Kind does not name are zero.
type What struct {
	Kind   WhatKind
	Unit   int // of the site that it comes from, from 0
	Host   HostState
	Alarm  AlarmKind
	Notify NotifyKind
	Source OutputSource
	Of     int // which host or outlet group of the plan, from 0
	Why    Why
}

// WhatKind is the kind of an event.
type WhatKind uint8

// Kinds of events.
const (
	WhatElse WhatKind = iota // nobody decides by it

	WhatHost      // host Of has come to the state Host
	WhatHostGap   // a gap of the supply was more than host Of holds up
	WhatHostWaits // host Of waits for what it needs
	WhatHostElse  // something else about host Of

	WhatGroupOn   // outlet group Of is live
	WhatGroupOff  // outlet group Of is dead
	WhatGroupShed // a rule takes outlet group Of off: Why

	WhatSink // a message came to a sink of the site, or did not

	WhatOutput    // Source feeds the output from now on; Why, if it is the bypass
	WhatOutputOff // the output is off: Why

	WhatAlarmRaised  // Alarm is in the table from now on
	WhatAlarmCleared // Alarm has left it
	WhatNotify       // the card has issued a notification: Notify
	WhatNotifyEnded  // an inform of the kind Notify was acknowledged, or given up

	WhatTestBegins
	WhatGenerator // something about the generator
	WhatCardBoots
	WhatSignIn // somebody signed in, or tried to
	WhatSchedule
	WhatFirmware
)

// Common says whether it is about what all units of a site have in common: hosts, outlet
// groups and sinks.
func (k WhatKind) Common() bool { return WhatHost <= k && k <= WhatSink }

// Why is a reason: Cause for those who decide by it, Text for people.
type Why struct {
	Cause Cause
	Text  string
}

// Cause is a reason that somebody decides by.
type Cause uint8

// Causes.
const (
	CauseElse      Cause = iota
	CauseOrdered         // a countdown that was ordered has run out
	CauseExhausted       // the battery has nothing left
)
