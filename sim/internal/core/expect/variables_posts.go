package expect

import "ridethrough/sim/internal/core/snap"

// postVariables are what became of messages of one kind, under a prefix.
func postVariables(p, what string, of func(*snap.Site) snap.PostCount) []Variable {
	list := []Variable{}
	for _, v := range []struct {
		name, doc string
		n         func(snap.PostCount) int
	}{
		{"made", "that the rules called for", func(c snap.PostCount) int { return c.Made }},
		{"sent", "attempts that left the card", func(c snap.PostCount) int { return c.Sent }},
		{"delivered", "that arrived", func(c snap.PostCount) int { return c.Delivered }},
		{"waiting", "that wait in the card", func(c snap.PostCount) int { return c.Waiting }},
		{"clears", "that arrived and told that something is over", func(c snap.PostCount) int { return c.Clears }},
		{"late", "that arrived marked as late", func(c snap.PostCount) int { return c.Late }},
		{"rejected", "that the server refused for good", func(c snap.PostCount) int { return c.Rejected }},
		{"expired", "that were given up after their time", func(c snap.PostCount) int { return c.Expired }},
		{"dropped", "that went because too many waited or nobody was left to send them to", func(c snap.PostCount) int { return c.Dropped }},
		{"lost", "that nobody has received and nobody will, as datagrams can be", func(c snap.PostCount) int { return c.Lost }},
	} {
		list = append(list, count(p+v.name, what+" "+v.doc, func(s *snap.Site) float64 { return float64(v.n(of(s))) }))
	}
	return list
}

func allPostVariables() []Variable {
	list := []Variable{count("alerts.risen", "warnings that became critical because they lasted for alerts.rise-after",
		func(s *snap.Site) float64 { return float64(s.Posted().Risen) }),
		count("alerts.expiry_warnings", "warnings of a certificate or battery that has nearly served its time (alerts.expiry-days)",
			func(s *snap.Site) float64 { return float64(s.Warned) })}
	list = append(list, postVariables("mails.", "mails", func(s *snap.Site) snap.PostCount { return s.Posted().Mail })...)
	return append(list, postVariables("syslog.", "syslog messages", func(s *snap.Site) snap.PostCount { return s.Posted().Syslog })...)
}

func recipientVariables(name string) []Variable {
	return postVariables("recipients."+name+".", "mails to this recipient", func(s *snap.Site) snap.PostCount { return s.Posted().To["mail/"+name] })
}

func collectorVariables(name string) []Variable {
	return postVariables("collectors."+name+".", "syslog messages to this collector", func(s *snap.Site) snap.PostCount { return s.Posted().To["syslog/"+name] })
}
