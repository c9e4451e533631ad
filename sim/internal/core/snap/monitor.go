package snap

import "ridethrough/sim/internal/core/vtime"

// Monitor is what the modelled monitoring manager knows and has said. One that is in a
// [Site] never changes.
type Monitor struct {
	OnBattery     bool // an alert is open: the load runs on battery
	ContactLost   bool // an alert is open: the card does not answer
	OutOfStep     bool // an alert is open: the card refuses its SNMPv3 requests
	NeighbourLost bool // the other card that it polls does not answer
	TicketOpen    bool // a ticket about an alarm is open

	Alerts, ContactAlerts, LowAlerts uint32     // that were opened; LowAlerts: of low charge
	Answered, Unanswered             uint32     // polls
	Tickets, Events                  uint32     // tickets about alarms, and rows of the alarm table that came
	Restarts                         uint32     // of the card that it noticed
	LineFailures                     int64      // of the input, that it counted by upsInputLineBads
	OthersLate                       vtime.Tick // longest that its other cards had to wait for this one
}
