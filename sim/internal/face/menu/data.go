package menu

import (
	"slices"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// What the words that only read give to programs. Names of values are those of
// the card's variables (docs/snmp.md), numbers in the unit that stands beside them.

type reading struct {
	Name  string `json:"name"`
	Line  int    `json:"line,omitempty"` // of a table, from 1
	Value any    `json:"value"`
	Unit  string `json:"unit,omitempty"`
}

// readings are all rows of a variable.
func readings(v View, x *model.Variable) []reading {
	mv := model.View{Dev: v.Dev, Now: v.Now}
	var list []reading
	for i := range x.Rows(&mv) {
		r := reading{Name: x.Name, Value: datum(x, x.At(&mv, i)), Unit: x.Symbol}
		if x.Table != nil {
			r.Line = i + 1
		}
		list = append(list, r)
	}
	return list
}

// datum is a value as JSON has it: a number in the unit for people, a word of an
// enumeration, else text.
func datum(x *model.Variable, value model.Value) any {
	switch {
	case len(x.Syntax.Enums) > 0, x.Syntax.Tag == ber.ObjectID, x.Syntax.Tag == ber.OctetString:
		return x.Say(value)
	case x.Decimals == 0:
		return value.Int
	}
	scale := 1.0
	for range x.Decimals {
		scale *= 10
	}
	return float64(value.Int) / scale
}

func statusData(v View, _ []string) any {
	var list []reading
	for _, name := range []string{"upsOutputSource", "upsSecondsOnBattery", "upsBatteryStatus", "upsEstimatedChargeRemaining",
		"upsEstimatedMinutesRemaining", "upsOutputPercentLoad", "upsShutdownAfterDelay", "upsStartupAfterDelay", "upsRebootWithDuration"} {
		list = append(list, readings(v, model.Lookup(name))...)
	}
	return map[string]any{"readings": list, "alarms": alarmsData(v, nil), "clock": date(v.Dev, v.Now)}
}

func measurementsData(v View, _ []string) any {
	list := []reading{}
	for _, x := range model.All() {
		if measured(x, v.Dev) {
			list = append(list, readings(v, x)...)
		}
	}
	return list
}

type presentAlarm struct {
	Alarm  string `json:"alarm"`
	Since  string `json:"since,omitempty"` // by the card's clock; absent: before the card started
	Number int32  `json:"number"`
}

func alarmsData(v View, _ []string) any {
	list := []presentAlarm{}
	for _, row := range v.Dev.Alarms.Rows[:v.Dev.Alarms.Count] {
		a := presentAlarm{Alarm: row.Kind.String(), Number: row.ID}
		if !row.Before {
			a.Since = date(v.Dev, row.Since)
		}
		list = append(list, a)
	}
	return list
}

func identityData(v View, _ []string) any {
	c, u := &v.Dev.Card, &v.Dev.UPS
	return map[string]any{
		"ups": strings.TrimSpace(u.Manufacturer + " " + u.Model), "ups_firmware": u.Firmware,
		"card": c.Identity.Model, "card_firmware": c.Identity.Firmware,
		"serial_number": c.Identity.SerialNumber, "hardware_address": c.Identity.Hardware,
		"running_s": c.Runs(v.Now).WholeSeconds(), "address_state": c.Address.State, "address": addressText(c.Address),
		"ssh_host_key": hostKeyOf(c),
	}
}

func hostKeyOf(c *snap.Card) string {
	if c.HostKey == nil {
		return ""
	}
	return c.HostKey.Print
}

func addressText(a snap.Address) string {
	if !a.Reachable() {
		return ""
	}
	return a.Prefix.String()
}

// showData is a map from path to value, or the data of a reading. Of a secret it
// tells only whether it is set.
func showData(v View, args []string) any {
	if len(args) > 0 {
		if w, ok := find(args[0]); ok && w.data != nil && w.name != "show" {
			return w.data(v, args[1:])
		}
	}
	values := map[string]any{}
	saved := &v.Dev.Card.Saved
	for _, ref := range setting.Every(saved) {
		under := len(args) == 0 || ref.Path == strings.ToLower(args[0]) || strings.HasPrefix(ref.Path, strings.ToLower(args[0])+".")
		switch {
		case !under:
		case ref.Secret:
			values[ref.Path] = map[string]bool{"set": ref.Get(saved) != ""}
		case slices.Equal(ref.Words, []string{"yes", "no"}):
			values[ref.Path] = ref.Get(saved) == "yes"
		default:
			values[ref.Path] = ref.Get(saved)
		}
	}
	return values
}
