package menu

import (
	"time"

	"ridethrough/sim/internal/core/snap"
)

func init() {
	register(word{name: "expiry", brief: "certificates, passwords and battery, and until when they serve", part: partUpkeep,
		detail: "Certificates as mail relay, syslog collectors and LDAP servers have shown them last: try makes them do it.\nPasswords of the card's own accounts by access.password-age. The battery by upkeep.battery.replaced and upkeep.battery.life. From alerts.expiry-days before the end on\nthe card warns once a day.",
		read:   plain(terms), data: termsData})
}

func terms(v View) string {
	list := v.Dev.Card.Terms
	if len(list) == 0 {
		return "Nothing that the card knows has an end: no server has shown it a certificate, passwords do not age,\nand no life of the battery is planned.\n"
	}
	rows := [][]string{{"what", "until"}}
	for i := range list {
		rows = append(rows, []string{printable(list[i].What), timeLeft(v, &list[i])})
	}
	return table(rows)
}

func timeLeft(v View, t *snap.Term) string {
	c := &v.Dev.Card
	return snap.TimeLeft(t.Ends, c.Clock.Stamp(v.Now), c.DateOf(t.Ends).Format(time.DateOnly))
}

type termLine struct {
	What  string    `json:"what"`
	Until time.Time `json:"until"`
}

func termsData(v View, _ []string) any {
	list := []termLine{}
	for _, t := range v.Dev.Card.Terms {
		list = append(list, termLine{t.What, v.Dev.Card.DateOf(t.Ends)})
	}
	return list
}
