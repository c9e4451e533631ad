package menu_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// withColumns is the site of the tests of journals, which logs these columns alone.
func withColumns(columns string) string {
	return strings.Replace(site, "[card.settings]\n", "[card.settings]\n\"upkeep.data.columns\" = \""+columns+"\"\n", 1)
}

// TestColumnsThatAreLogged: the export has the columns that are set, each equal to what the
// card read at the instants of the log, and no others, in CSV, in JSON and in the menu.
func TestColumnsThatAreLogged(t *testing.T) {
	read := map[string]func(d *snap.Device) string{
		"input_v":         func(d *snap.Device) string { return tenth(d.Input.Lines[0].Volts) },
		"output_v":        func(d *snap.Device) string { return tenth(d.Output.Lines[0].Volts) },
		"output_w":        func(d *snap.Device) string { return fmt.Sprintf("%.0f", d.Output.Lines[0].Watts) },
		"load_pct":        func(d *snap.Device) string { return tenth(d.Output.Lines[0].LoadPct) },
		"charge_pct":      func(d *snap.Device) string { return tenth(d.Battery.ChargePct) },
		"runtime_s":       func(d *snap.Device) string { return fmt.Sprintf("%.0f", d.Battery.RuntimeS) },
		"battery_v":       func(d *snap.Device) string { return tenth(d.Battery.Volts) },
		"battery_c":       func(d *snap.Device) string { return tenth(d.Battery.TempC) },
		"probe_inlet_c":   func(d *snap.Device) string { return tenth(d.Probes.List[0].TempC) },
		"probe_inlet_pct": func(d *snap.Device) string { return fmt.Sprintf("%.0f", d.Probes.List[0].HumidityPct) },
		"energy_kwh":      func(d *snap.Device) string { return fmt.Sprintf("%.3f", d.Energy.Total(d.Tick).Wh/1000) },
	}
	for set, want := range map[string]string{
		"all":                   "input_v output_v output_w load_pct charge_pct runtime_s battery_v battery_c probe_inlet_c probe_inlet_pct energy_kwh",
		"input_v":               "input_v",
		"Probes, input_v":       "input_v probe_inlet_c probe_inlet_pct",
		"energy_kwh,battery_c":  "battery_c energy_kwh",
		"output_w,load_pct":     "output_w load_pct",
		"charge_pct,runtime_s":  "charge_pct runtime_s",
		"output_v , battery_v,": "",
	} {
		t.Run(set, func(t *testing.T) {
			if want == "" {
				checkRefusedColumns(t, set)
				return
			}
			columns := strings.Fields(want)
			r := playtest.Start(t, withColumns(set))
			var instants [][]string
			for r.Engine.Now() < vtime.Hour {
				r.Step()
				if r.Engine.Now()%(2*vtime.Minute) != vtime.Minute { // it begins at 07:55
					continue
				}
				var row []string
				for _, c := range columns {
					row = append(row, read[c](&r.Site.Device))
				}
				instants = append(instants, row)
			}
			checkExport(t, r, columns, instants)
		})
	}
}

func checkRefusedColumns(t *testing.T, set string) {
	x, err := setting.Find(new(snap.Settings), "upkeep.data.columns")
	if err != nil {
		t.Fatal(err)
	}
	s := new(snap.Settings)
	if err := x.Set(s, set); err == nil || !strings.Contains(err.Error(), `"": expected all, or some of input_v`) || x.Get(s) != "all" {
		t.Errorf("%v, then %s", err, x.Get(s))
	}
}

func checkExport(t *testing.T, r *playtest.Run, columns []string, instants [][]string) {
	head, list := rows(t, of(r), "data-log --csv")
	if got, want := strings.Join(head, " "), "number date source "+strings.Join(columns, " "); got != want {
		t.Errorf("columns %s, want %s", got, want)
	}
	var doc struct{ Entries []map[string]any }
	text, _ := once(of(r), "data-log --json")
	if err := json.Unmarshal([]byte(text), &doc); err != nil || len(doc.Entries) != len(instants) || len(list) != len(instants) {
		t.Fatalf("%d and %d entries of %d: %v", len(list), len(doc.Entries), len(instants), err)
	}
	for i, row := range list {
		if got, want := strings.Join(row[3:], " "), strings.Join(instants[i], " "); got != want {
			t.Errorf("entry %d has %s, the trajectory %s", i+1, got, want)
		}
		if len(doc.Entries[i]) != 3+len(columns) || doc.Entries[i][columns[0]] == nil {
			t.Errorf("JSON of entry %d: %v", i+1, doc.Entries[i])
		}
	}
	if text, _ := once(of(r), "data-log 1"); len(strings.Fields(text)) < len(columns) || !strings.Contains(text, columns[0]) {
		t.Errorf("the menu shows\n%s", text)
	}
}

// TestWhatIsNotLoggedIsGone: a column that is set later has nothing to show of before, and
// null in JSON; one that is taken out again has lost nothing of what was logged.
func TestWhatIsNotLoggedIsGone(t *testing.T) {
	r := playtest.Start(t, withColumns("charge_pct")).To(10 * vtime.Minute)
	set := func(columns string) {
		t.Helper()
		r.Inject(`settings = { "upkeep.data.columns" = "` + columns + `" }`)
	}
	set("charge_pct,input_v,probes,energy_kwh")
	_, list := rows(t, of(r.To(20*vtime.Minute)), "data-log --csv")
	if len(list) != 10 {
		t.Fatalf("%d entries", len(list))
	}
	for i, row := range list {
		if empty := strings.Join([]string{row[3], row[5], row[6], row[7]}, "") == ""; empty != (i < 5) || row[4] == "" {
			t.Errorf("entry %d: %q", i+1, row)
		}
	}
	var doc struct{ Entries []map[string]any }
	text, _ := once(of(r), "data-log --json")
	if err := json.Unmarshal([]byte(text), &doc); err != nil {
		t.Fatal(err)
	}
	if v, there := doc.Entries[0]["input_v"]; v != nil || !there || doc.Entries[9]["input_v"] == nil {
		t.Errorf("%v and %v", doc.Entries[0], doc.Entries[9])
	}
	set("charge_pct")
	if head, _ := rows(t, of(r), "data-log --csv"); len(head) != 4 {
		t.Errorf("%q", head)
	}
	set("input_v")
	if _, list := rows(t, of(r), "data-log --csv"); list[9][3] == "" || list[4][3] != "" {
		t.Errorf("%q", list)
	}
}

// TestDipBetweenSamples: entries ten minutes apart do not have a dip of 40 s, which the
// journal of events has; ten seconds apart they have it, unless nobody logs the input.
func TestDipBetweenSamples(t *testing.T) {
	for _, row := range []struct {
		every, columns string
		seen           bool
	}{{"10m", "all", false}, {"10s", "all", true}, {"10s", "input_v", true}, {"10s", "output_v,charge_pct", false}} {
		text := strings.Replace(withColumns(row.columns), `"upkeep.data.every" = "2m"`, `"upkeep.data.every" = "`+row.every+`"`, 1)
		r := playtest.Start(t, text).To(7 * vtime.Minute) // 08:02
		r.Inject(`source = { sag_pct = 60, lasts = "40s" }`)
		log, _ := once(of(r.To(9*vtime.Minute)), "data-log --csv")
		if seen := strings.Contains(log, ",battery,") && strings.Contains(log, ",138.0"); seen != row.seen {
			t.Errorf("every %s of %s: the dip shows %v\n%s", row.every, row.columns, seen, log)
		}
		if events, _ := once(of(r), "journal events"); !strings.Contains(events, "alarm on_battery raised") {
			t.Errorf("the journal has not seen it\n%s", events)
		}
	}
}
