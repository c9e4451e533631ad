package expect

import "ridethrough/sim/internal/core/snap"

// nobody is what a site without a monitoring manager has.
var nobody snap.Monitor

func monitorOf(s *snap.Site) *snap.Monitor {
	if s.Monitor == nil {
		return &nobody
	}
	return s.Monitor
}

func monitorVariables() []Variable {
	yes := func(name, doc string, is func(*snap.Monitor) bool) Variable {
		return yesNo("monitor."+name, doc, func(s *snap.Site) bool { return is(monitorOf(s)) })
	}
	times := func(name, doc string, of func(*snap.Monitor) uint32) Variable {
		return count("monitor."+name, doc, func(s *snap.Site) float64 { return float64(of(monitorOf(s))) })
	}
	return []Variable{
		yes("on_battery", "the modelled monitoring manager has an alert open: the load runs on battery",
			func(m *snap.Monitor) bool { return m.OnBattery }),
		yes("contact_lost", "it has an alert open: the card does not answer",
			func(m *snap.Monitor) bool { return m.ContactLost }),
		yes("out_of_step", "it says that the card refuses its SNMPv3 requests as outside the time window",
			func(m *snap.Monitor) bool { return m.OutOfStep }),
		yes("neighbour_lost", "the other card refuses them",
			func(m *snap.Monitor) bool { return m.NeighbourLost }),
		yes("ticket_open", "an alarm with a ticket is present",
			func(m *snap.Monitor) bool { return m.TicketOpen }),
		times("alerts", "alerts about battery operation that it opened",
			func(m *snap.Monitor) uint32 { return m.Alerts }),
		times("contact_alerts", "alerts about lost contact that it opened",
			func(m *snap.Monitor) uint32 { return m.ContactAlerts }),
		times("low_alerts", "alerts about low charge that it opened",
			func(m *snap.Monitor) uint32 { return m.LowAlerts }),
		times("answered", "polls that were answered",
			func(m *snap.Monitor) uint32 { return m.Answered }),
		times("unanswered", "polls that were not",
			func(m *snap.Monitor) uint32 { return m.Unanswered }),
		times("tickets", "tickets about alarms that it opened",
			func(m *snap.Monitor) uint32 { return m.Tickets }),
		times("events", "rows of the alarm table with such an alarm that it has seen come",
			func(m *snap.Monitor) uint32 { return m.Events }),
		times("restarts", "restarts of the card that it noticed",
			func(m *snap.Monitor) uint32 { return m.Restarts }),
		count("monitor.line_failures", "failures of the input that it counted by upsInputLineBads",
			func(s *snap.Site) float64 { return float64(monitorOf(s).LineFailures) }),
		number("monitor.others_late_s", "longest that its other cards had to wait for this one, in seconds",
			func(s *snap.Site) float64 { return monitorOf(s).OthersLate.Seconds() }),
	}
}
