package menu

import (
	"fmt"
	"strings"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/model"
)

func row(label, value string) string { return fmt.Sprintf("  %-16s %s\n", label, value) }

// date is t by the card's clock.
func date(d *snap.Device, t vtime.Tick) string {
	return day(d.Card.Date(t))
}

// day is a date for people.
func day(t time.Time) string { return t.Format("2006-01-02 15:04:05") }

// span is t in hours, minutes and seconds.
func span(t vtime.Tick) string {
	s := max(t, 0).WholeSeconds()
	return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
}

func status(v View) string {
	d := v.Dev
	var b strings.Builder
	b.WriteString(row("Output", output(v)))
	b.WriteString(row("Battery", value(v, "upsBatteryStatus")+", charge "+value(v, "upsEstimatedChargeRemaining")))
	b.WriteString(row("Runtime", value(v, "upsEstimatedMinutesRemaining")+" at the present load"))
	load := model.Lookup("upsOutputPercentLoad")
	for i := range d.Output.Count {
		b.WriteString(row(phase("Load", i, d.Output.Count), load.RowText(d, v.Now, i)+" of the rating"))
	}
	if d.Card.UnitLost {
		b.WriteString(row("Age of data", dataAge(v)))
	}
	b.WriteString(row("Alarms", alarmNames(d)))
	b.WriteString(countdowns(v))
	b.WriteString(unusualGroups(v))
	b.WriteString(row("Card's clock", date(d, v.Now)))
	return b.String()
}

// value is a card variable for people, with its unit. Scale, rounding and words
// are those of the table of variables.
func value(v View, name string) string { return model.Lookup(name).Text(v.Dev, v.Now) }

func output(v View) string {
	text := "source: " + value(v, "upsOutputSource")
	if v.Dev.UPS.OnBatterySince != vtime.Never {
		text += ", time on battery " + value(v, "upsSecondsOnBattery")
	}
	return text
}

// countdowns are those of the control group that run.
func countdowns(v View) string {
	c := &v.Dev.Control
	text := ""
	for _, x := range []struct {
		at   vtime.Tick
		name string
	}{{c.ShutdownAt, "upsShutdownAfterDelay"}, {c.StartupAt, "upsStartupAfterDelay"}, {c.RebootUntil, "upsRebootWithDuration"}} {
		if x.at != vtime.Never {
			text += row(model.Lookup(x.name).Label, value(v, x.name))
		}
	}
	return text
}

// dataAge tells how far what the card knows of the unit can be trusted.
func dataAge(v View) string {
	if v.Dev.Card.UnitBlank {
		return "no data: no contact with the UPS for " + span(v.Now-v.Dev.Card.UnitSince)
	}
	return span(v.Now-v.Dev.Card.UnitSince) + ": no contact with the UPS, these are its last readings"
}

// measurements are all numbers of the groups that measure.
func measurements(v View) string {
	var b strings.Builder
	for _, x := range model.All() {
		if !measured(x, v.Dev) {
			continue
		}
		rows := x.Rows(&model.View{Dev: v.Dev, Now: v.Now})
		for i := range rows {
			fmt.Fprintf(&b, "  %-22s %10s\n", phase(x.Label, i, rows), x.RowText(v.Dev, v.Now, i))
		}
	}
	return b.String()
}

func measured(x *model.Variable, d *snap.Device) bool {
	switch x.Group {
	case model.GroupBypass:
		return x.Symbol != "" && d.Bypass.Count > 0
	case model.GroupBattery, model.GroupInput, model.GroupOutput:
		return x.Symbol != "" || x.Name == "upsInputLineBads"
	}
	return false
}

func alarmNames(d *snap.Device) string {
	if d.Alarms.Count == 0 {
		return "none"
	}
	var names []string
	for i := range d.Alarms.Count {
		names = append(names, model.Alarm(d.Alarms.Rows[i].Kind).Label)
	}
	return fmt.Sprintf("%d: %s", d.Alarms.Count, strings.Join(names, "; "))
}

func alarms(v View) string {
	a := &v.Dev.Alarms
	if a.Count == 0 {
		return "No alarm is present.\n"
	}
	var b strings.Builder
	for i := range a.Count {
		since := date(v.Dev, a.Rows[i].Since) + ", for " + span(v.Now-a.Rows[i].Since)
		if a.Rows[i].Before {
			since = "before the card started"
		}
		fmt.Fprintf(&b, "  %-32s since %s\n", model.Alarm(a.Rows[i].Kind).Label, since)
	}
	return b.String()
}

// printable keeps what others wrote from steering the reader's terminal.
func printable(text string) string { return snap.Printable(text) }

// lines is printable for each line of text: reasons repeat what was typed.
func lines(text string) string {
	list := strings.Split(text, "\n")
	for i := range list {
		list[i] = printable(list[i])
	}
	return strings.Join(list, "\n")
}

func identity(v View) string {
	c, u := &v.Dev.Card, &v.Dev.UPS
	var b strings.Builder
	for _, x := range [][2]string{
		{"UPS", strings.TrimSpace(u.Manufacturer + " " + u.Model)},
		{"UPS firmware", u.Firmware},
		{"Card", c.Identity.Model},
		{"Card firmware", c.Identity.Firmware},
		{"Serial number", c.Identity.SerialNumber},
		{"Hardware", c.Identity.Hardware},
		{"Name", printable(c.Settings.Name)},
		{"Location", printable(c.Settings.Location)},
		{"Contact", printable(c.Settings.Contact)},
		{"Running for", span(c.Runs(v.Now))},
	} {
		b.WriteString(row(x[0], x[1]))
	}
	if print := hostKeyOf(c); print != "" {
		b.WriteString(row("SSH host key", print))
	}
	return b.String() + addressNow(c.Address)
}

// phase is a label for line i of count.
func phase(label string, i, count int) string {
	if count == 1 {
		return label
	}
	return fmt.Sprintf("%s L%d", label, i+1)
}
