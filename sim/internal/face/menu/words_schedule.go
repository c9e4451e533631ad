package menu

import (
	"fmt"
	"strings"
	"time"

	"ridethrough/sim/internal/core/schedule"
	"ridethrough/sim/internal/core/snap"
)

func init() {
	register(
		word{name: "schedule", brief: "the next 14 days of the weekly schedule", part: partShutdown,
			detail: "A dry list: what the schedule will do by the settings in force, the nights in which the clocks\nchange and holidays included. Nothing is done before the clock was set. Settings: shutdown.schedule\nand shutdown.holiday.",
			read:   plain(scheduleText), data: scheduleData},
		word{name: "skip", brief: "leave out the next time of a schedule entry", part: partShutdown, needs: snap.Administrator,
			detail: "skip NAME sets shutdown.schedule.NAME.skip to the next day on which the entry would act. The rest of\nthe week stays. Set it to none to take that back.",
			act:    &skip},
	)
}

// dryDays is how far the dry list goes.
const dryDays = 14

func dryList(v View) []snap.Planned {
	from := v.Dev.Card.Date(v.Now)
	return v.Dev.Card.Settings.Schedule.Plan(from, from.AddDate(0, 0, dryDays))
}

func scheduleText(v View) string {
	c := &v.Dev.Card
	if len(c.Settings.Schedule.Entries) == 0 {
		return "The schedule has no entry: add shutdown.schedule NAME makes one.\n"
	}
	var b strings.Builder
	if !c.Clock.Set {
		b.WriteString("It waits: the clock was never set. By the clock as it is it would do:\n")
	}
	list := dryList(v)
	for _, p := range list {
		note := ""
		if p.Entry.Warns() && p.Entry.Warn > 0 {
			note = ", hosts are told at " + p.At.Add(-p.Entry.Warn.Duration()).Format("15:04")
		}
		fmt.Fprintf(&b, "  %s  %-14s %s %s%s\n", p.At.Format("Mon 2006-01-02 15:04 -07:00"), p.Entry.Name, p.Entry.What(), p.Entry.Does(), note)
	}
	if len(list) == 0 {
		fmt.Fprintf(&b, "Nothing within %d days.\n", dryDays)
	}
	return b.String()
}

func scheduleData(v View, _ []string) any {
	list := []map[string]any{}
	for _, p := range dryList(v) {
		warning := p.Entry.Warn
		if !p.Entry.Warns() {
			warning = 0
		}
		list = append(list, map[string]any{
			"at": p.At.Format(time.RFC3339), "entry": p.Entry.Name, "what": p.Entry.What(), "do": p.Entry.Does(), "warning_s": warning.WholeSeconds(),
		})
	}
	return map[string]any{"clock_set": v.Dev.Card.Clock.Set, "next": list}
}

// skip leaves out one time.
var skip = action{
	ask: []question{{label: "entry", help: "Name of the entry of the schedule.", check: anEntry}},
	caution: func(v View, given []string) string {
		_, at, _ := nextOf(v, given[0])
		return fmt.Sprintf("Entry %s will not act on %s. What it would switch off stays on, and the other way round.\n", given[0], at.Format("Mon 2006-01-02"))
	},
	confirm: "skip",
	command: func(v View, given []string) snap.Command {
		s := v.Dev.Card.Saved.Clone()
		i, at, _ := nextOf(v, given[0])
		s.Schedule.Entries[i].Skip = schedule.DateOf(at)
		return snap.Command{Op: snap.OpSave, Settings: s, Revision: v.Dev.Card.Revision}
	},
	done: func(View, []string) string { return "It is left out once.\n" },
}

func anEntry(v View, _ []string, answer string) (string, error) {
	_, _, err := nextOf(v, answer)
	return answer, err
}

// nextOf is an entry of the saved settings and when it acts next.
func nextOf(v View, name string) (int, time.Time, error) {
	s := &v.Dev.Card.Saved.Schedule
	for i := range s.Entries {
		if s.Entries[i].Name != name {
			continue
		}
		rule := s.Rule(i)
		if at, ok := rule.Next(v.Dev.Card.Date(v.Now)); ok {
			return i, at, nil
		}
		return i, time.Time{}, fmt.Errorf("entry %s does not act within a year", name)
	}
	return 0, time.Time{}, fmt.Errorf("the schedule has no entry %q", name)
}
