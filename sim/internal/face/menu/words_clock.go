package menu

import (
	"fmt"
	"strings"
	"time"

	"ridethrough/sim/internal/core/schedule"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func init() {
	register(
		word{name: "clock", brief: "date, zone, what set the clock, and its time servers", part: partReach,
			detail: "The dates of the journal, of messages and of the schedule are those of this clock. One that\nwas never set counts from 1970, and the schedule waits for it.",
			read:   plain(clock), data: clockData},
		word{name: "set-clock", brief: "set the clock by hand", part: partReach, needs: snap.Administrator,
			detail: "set-clock 2026-03-02 07:55:10, in the card's zone (show reach.zone). Time servers that agree\nset it again with their next answer.",
			act:    &setClock},
	)
}

func clock(v View) string {
	c := &v.Dev.Card
	now := c.Date(v.Now)
	_, offset := now.Zone()
	var b strings.Builder
	b.WriteString(row("Date", day(now)+now.Format(" -07:00")))
	b.WriteString(row("In UTC", day(now.UTC())))
	b.WriteString(row("Zone", zoneText(c, offset)))
	b.WriteString(row("Set", setBy(&c.Clock)))
	if c.Time == nil {
		return b.String()
	}
	b.WriteString(row("Last checked", checked(v)))
	for _, s := range c.Time.Servers {
		b.WriteString(row("Time server", fmt.Sprintf("%s (%s): %s", s.Name, addressOr(s.TimeServer), serverText(&s))))
	}
	return b.String()
}

func addressOr(s snap.TimeServer) string {
	if !s.Address.IsValid() {
		return "no address"
	}
	return s.Address.String()
}

func zoneText(c *snap.Card, offset int) string {
	rule := c.Settings.Zone
	if rule == "" {
		rule = "UTC0"
	}
	return rule + ", now UTC" + time.Time{}.In(time.FixedZone("", offset)).Format("-07:00")
}

func setBy(k *snap.Clock) string {
	switch {
	case !k.Set:
		return "never: it counts from 1970"
	case k.From == "factory", k.From == "hand":
		return "by " + map[string]string{"factory": "whoever put it up", "hand": "hand"}[k.From]
	}
	return "by time server " + k.From
}

func checked(v View) string {
	t := v.Dev.Card.Time
	text := "never"
	if t.Checked != vtime.Never {
		text = date(v.Dev, t.Checked) + ", " + span(v.Now-t.Checked) + " ago"
	}
	if t.NextAt != vtime.Never {
		text += ", again in " + span(t.NextAt-v.Now)
	}
	return text
}

func serverText(s *snap.TimeServerState) string {
	text := s.Trust.String()
	if s.Reason != "" {
		text += ", " + printable(s.Reason)
	}
	if s.Trust == snap.TrustTaken || s.Trust == snap.TrustAgrees || s.Trust == snap.TrustRejected {
		text += fmt.Sprintf(", it was %+.3f s ahead", s.Off.Seconds())
	}
	return text
}

func clockData(v View, _ []string) any {
	c := &v.Dev.Card
	data := map[string]any{
		"date": c.Date(v.Now).Format(time.RFC3339), "set": c.Clock.Set, "set_by": c.Clock.From,
		"zone": c.Settings.Zone,
	}
	if c.Settings.Zone == "" {
		data["zone"] = "UTC0"
	}
	if c.Time == nil {
		return data
	}
	if c.Time.Checked != vtime.Never {
		data["checked_s_ago"] = (v.Now - c.Time.Checked).WholeSeconds()
	}
	servers := []map[string]any{}
	for _, s := range c.Time.Servers {
		servers = append(servers, map[string]any{
			"name": s.Name, "address": addressOr(s.TimeServer), "trust": s.Trust.String(), "ahead_s": s.Off.Seconds(), "reason": s.Reason,
		})
	}
	data["servers"] = servers
	return data
}

// setClock sets the clock.
var setClock = action{
	ask: []question{
		{label: "date", help: "The day as yyyy-mm-dd, such as 2026-03-02.", check: aDay},
		{label: "time", help: "The time of the day in the card's zone, hh:mm or hh:mm:ss.", check: aTime},
	},
	caution: func(v View, given []string) string {
		to := dateOf(v, given)
		text := fmt.Sprintf("The clock shows %s now and will show %s.\n", date(v.Dev, v.Now), day(to))
		return text + "Dates of messages jump, and the weekly schedule goes by the new one at once: an entry that lies\nbetween the two is not made up for. What lasts, such as the time on battery, is not touched.\n"
	},
	confirm: "set",
	command: func(v View, given []string) snap.Command {
		return snap.Command{Op: snap.OpClock, At: snap.StampOf(dateOf(v, given))}
	},
	done: func(v View, _ []string) string { return "The clock was set: " + date(v.Dev, v.Now) + ".\n" },
}

func aDay(_ View, _ []string, answer string) (string, error) {
	d, err := schedule.ParseDate(answer)
	if err == nil && (d.Year < 2000 || d.Year > 2099) {
		err = fmt.Errorf("%s is no date of this card's life: 2000 to 2099", answer)
	}
	return answer, err
}

func aTime(v View, given []string, answer string) (string, error) {
	at, err := timeOfDay(answer)
	if err != nil {
		return "", err
	}
	day, _ := schedule.ParseDate(given[0])
	shown := schedule.Instant(day, schedule.Clock(at/60), v.Dev.Card.Clock.In(0).Location())
	if shown.Hour()*60+shown.Minute() != at/60 {
		return "", fmt.Errorf("the clocks go forward over %s on that day: there is no such time", answer)
	}
	return answer, nil
}

// timeOfDay is seconds after midnight.
func timeOfDay(text string) (int, error) {
	for _, form := range []string{"15:04:05", "15:04"} {
		if t, err := time.Parse(form, text); err == nil {
			return t.Hour()*3600 + t.Minute()*60 + t.Second(), nil
		}
	}
	return 0, fmt.Errorf("%q is no time of the day: expected hh:mm or hh:mm:ss", text)
}

// dateOf is what was answered, as a date in the card's zone; in the hour that comes
// twice the first.
func dateOf(v View, given []string) time.Time {
	day, _ := schedule.ParseDate(given[0])
	at, _ := timeOfDay(given[1])
	minute := schedule.Instant(day, schedule.Clock(at/60), v.Dev.Card.Clock.In(0).Location())
	return minute.Add(time.Duration(at%60) * time.Second)
}
