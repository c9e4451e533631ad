package menu_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/menu"
)

// site is an invented site with an outage and hosts that come and go.
const site = `
title = "Log"
run_for = "4h"
seed = 3
start = 2026-03-02T07:55:00+01:00
[battery]
block = "agm-12v-9ah"
[card]
address = "192.0.2.15/24"
[card.settings]
"upkeep.journal.events" = "50"
"upkeep.journal.system" = "50"
"upkeep.data.every" = "2m"
"upkeep.data.entries" = "50"
[room]
volume_m3 = 80
[[probe]]
name = "inlet"
humidity = true
[[group]]
name = "a"
[[group]]
name = "b"
[[group]]
name = "past"
fed_by = "mains"
[[host]]
name = "one"
groups = ["a", "b"]
draw_w = 600
stop_takes = "1m"
[[host]]
name = "two"
group = "b"
draw_w = 250
idle_w = 20
stop_takes = "90s"
[[host]]
name = "three"
groups = ["b", "past"]
draw_w = 100
stop_takes = "90s"
[[at]]
time = "31m"
source = "lost"
[[at]]
time = "36m"
host = "two"
order = "stop"
[[at]]
time = "41m"
source = "normal"
[[at]]
time = "50m"
host = "one"
draw_w = 333
`

func of(r *playtest.Run) menu.View { return menu.View{Dev: &r.Site.Device, Now: r.Engine.Now()} }

// rows are what a line gives as CSV, without the head.
func rows(t *testing.T, v menu.View, line string) (head []string, rest [][]string) {
	t.Helper()
	text, ok := once(v, line)
	all, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if !ok || err != nil || len(all) == 0 || !strings.Contains(text, "\r\n") {
		t.Fatalf("%s: %v, %v\n%s", line, ok, err, text)
	}
	return all[0], all[1:]
}

// TestDataLogIsTheTrajectory: the export holds what the card read at the instants
// of its interval, all of them, in CSV and in JSON; what does not fit is counted.
func TestDataLogIsTheTrajectory(t *testing.T) {
	r := playtest.Start(t, site)
	want := map[vtime.Tick][]string{}
	for r.Engine.Now() < r.Plan.RunFor {
		r.Step()
		if now := r.Engine.Now(); now%(2*vtime.Minute) == vtime.Minute { // it begins at 07:55
			d := &r.Site.Device
			want[now] = []string{
				d.Card.Date(now).Format("2006-01-02T15:04:05.000Z07:00"), d.UPS.Source.String(),
				tenth(d.Input.Lines[0].Volts), tenth(d.Output.Lines[0].Volts), fmt.Sprintf("%.0f", math.Round(d.Output.Lines[0].Watts)),
				tenth(d.Output.Lines[0].LoadPct), tenth(d.Battery.ChargePct), fmt.Sprintf("%.0f", math.Round(d.Battery.RuntimeS)),
				tenth(d.Battery.Volts), tenth(d.Battery.TempC), tenth(d.Probes.List[0].TempC), fmt.Sprintf("%.0f", math.Round(d.Probes.List[0].HumidityPct)),
				fmt.Sprintf("%.3f", math.Round(r.Site.Power.OutputWh)/1000),
			}
		}
	}
	head, list := rows(t, of(r), "data-log --csv")
	if got := strings.Join(head, " "); got != "number date source input_v output_v output_w load_pct charge_pct runtime_s battery_v battery_c probe_inlet_c probe_inlet_pct energy_kwh" {
		t.Errorf("columns %s", got)
	}
	var doc struct {
		Lost    int
		Entries []map[string]any
	}
	text, _ := once(of(r), "data-log --json")
	if err := json.Unmarshal([]byte(text), &doc); err != nil || doc.Lost != 120-50 || len(doc.Entries) != 50 || len(list) != 50 || len(want) != 120 {
		t.Fatalf("%d and %d entries, %d lost: %v", len(list), len(doc.Entries), doc.Lost, err)
	}
	for i, row := range list {
		n := 120 - 50 + i + 1
		at := vtime.Tick(2*n-1) * vtime.Minute
		if row[0] != fmt.Sprint(n) || strings.Join(row[1:], ",") != strings.Join(want[at], ",") {
			t.Errorf("entry %d\n got %s\nwant %s", n, row, want[at])
		}
		e := doc.Entries[i]
		if e["seq"] != float64(n) || e["time"] != row[1] || fmt.Sprintf("%.1f", e["battery_v"]) != row[9] || fmt.Sprintf("%.3f", e["energy_kwh"]) != row[13] {
			t.Errorf("JSON of entry %d: %v", n, e)
		}
	}
	if text, _ := once(of(r), "data-log 3"); strings.Count(text, "\n") != 3+3 || !strings.Contains(text, "70 entries lost") {
		t.Errorf("%s", text)
	}
}

func tenth(v float64) string { return fmt.Sprintf("%.1f", math.Round(10*v)/10) }

// TestEnergyIsWhatFlowed: the meters sum up to what the unit gave, the average is
// that of the last hour, and a reset starts from 0 and is told.
func TestEnergyIsWhatFlowed(t *testing.T) {
	r := playtest.Start(t, site)
	type at struct {
		now vtime.Tick
		wh  float64
	}
	var past []at
	for r.Engine.Now() < 3*vtime.Hour {
		r.Step()
		now, e := r.Engine.Now(), r.Site.Energy
		used := e.Total(now)
		if math.Abs(used.Wh-r.Site.Power.OutputWh) > 1e-6*r.Site.Power.OutputWh+0.01 {
			t.Fatalf("at %v the meters show %.4f Wh of %.4f", now, used.Wh, r.Site.Power.OutputWh)
		}
		past = append(past, at{now, used.Wh})
		begin := at{}
		for _, p := range past {
			if p.now == now-vtime.Hour {
				begin = p
			}
		}
		if begin.now > 0 || now <= vtime.Hour {
			want := (used.Wh - begin.wh) / (now - begin.now).Seconds() * 3600
			if math.Abs(used.HourW-want) > 0.001 {
				t.Fatalf("at %v the hour's average is %.4f W, want %.4f", now, used.HourW, want)
			}
		}
		if a, b := e.Group(0, now), e.Group(1, now); math.Abs(a.Wh+b.Wh-used.Wh) > 1e-9 || e.Group(2, now) != (snap.Used{}) {
			t.Fatalf("groups %+v %+v %+v", a, b, e.Group(2, now))
		}
	}
	text, ok := once(of(r), "energy")
	if !ok || !strings.Contains(text, "total") || strings.Contains(text, "past") || !strings.Contains(text, "Last reset       never") {
		t.Errorf("%s", text)
	}
	kwh := fmt.Sprintf("%.3f kWh", r.Site.Power.OutputWh/1000)
	r.Ask(snap.OpEnergyReset)
	r.To(r.Engine.Now() + 30*vtime.Minute)
	if used := r.Site.Energy.Total(r.Engine.Now()); math.Abs(used.Wh-used.HourW/2) > 0.01 {
		t.Errorf("half an hour after the reset %+v", used)
	}
	if _, list := rows(t, of(r), "journal system --csv"); !strings.Contains(fmt.Sprint(list), "energy meters set to 0") || !strings.Contains(fmt.Sprint(list), kwh) {
		t.Errorf("%s is not in %s", kwh, list)
	}
}

// TestJournalsExport: each by itself and both, in the order of the numbers; what
// somebody does to the card takes nothing of what befell the unit; loss is marked.
func TestJournalsExport(t *testing.T) {
	r := playtest.Start(t, site)
	r.To(vtime.Hour)
	for range 200 {
		r.Set(snap.Assignment{Var: snap.VarSysLocation, Text: "=cmd()"})
	}
	_, events := rows(t, of(r), "journal events --csv")
	_, system := rows(t, of(r), "journal system --csv")
	_, both := rows(t, of(r), "journal --csv")
	if len(events) == 0 || events[0][0] == "" || !strings.Contains(fmt.Sprint(events), "alarm on_battery raised") || strings.Contains(fmt.Sprint(events), "sysLocation") {
		t.Errorf("events %q", events)
	}
	if len(system) != 51 || system[0][0] != "" || !strings.Contains(system[0][3], "entries lost before these") {
		t.Errorf("%d of system, first %q", len(system), system[0])
	}
	if len(both) != len(events)+len(system) {
		t.Errorf("%d entries in both, %d and %d in each", len(both), len(events), len(system))
	}
	last, marks := 0, 0
	for i, row := range both {
		n := 0
		if row[0] == "" { // of the journal that has lost something, before the first that it keeps
			marks++
			if row[2] != "system" || i+1 == len(both) || both[i+1][0] != system[1][0] {
				t.Errorf("%q stands before %q, not before %q", row, both[i+1], system[1])
			}
			continue
		}
		fmt.Sscan(row[0], &n)
		if _, err := time.Parse(time.RFC3339, row[1]); err != nil || n <= last || strings.HasPrefix(row[3], "=") {
			t.Errorf("after %d: %q, %v", last, row, err)
		}
		last = n
	}
	if marks != 1 {
		t.Errorf("%d times what was lost", marks)
	}
	var doc struct {
		Lost    int
		Entries []struct{ Journal, Text string }
	}
	text, _ := once(of(r), "journal system --json")
	if err := json.Unmarshal([]byte(text), &doc); err != nil || len(doc.Entries) != 50 || doc.Lost == 0 || doc.Entries[0].Journal != "system" {
		t.Errorf("%v: %d entries, %d lost", err, len(doc.Entries), doc.Lost)
	}
	for _, wrong := range []string{"journal everything", "journal --cvs", "show journal 0", "data-log -3 --json", "show data-log soon"} {
		if text, ok := once(of(r), wrong); ok || !strings.Contains(text, "is not a number of entries") {
			t.Errorf("%s: %v, %q", wrong, ok, text)
		}
	}
}

// TestFieldsAreDocumented: docs/json.md names each field that these words give.
func TestFieldsAreDocumented(t *testing.T) {
	page, err := os.ReadFile("../../../../docs/json.md")
	if err != nil {
		t.Fatal(err)
	}
	r := playtest.Start(t, site)
	r.To(vtime.Hour)
	r.Ask(snap.OpEnergyReset)
	fields := map[string]bool{}
	for _, line := range []string{"show battery", "show input", "show output", "show test", "show config", "groups", "journal events", "journal 2", "data-log", "energy"} {
		text, ok := once(of(r), line+" --json")
		var v any
		if err := json.Unmarshal([]byte(text), &v); err != nil || !ok {
			t.Fatalf("%s: %v, %s", line, err, text)
		}
		gather(v, fields)
	}
	if len(fields) < 30 {
		t.Errorf("saw %d fields only", len(fields))
	}
	for name := range fields {
		name = strings.Replace(name, "probe_inlet", "probe_NAME", 1)
		if !strings.Contains(string(page), "`"+name+"`") {
			t.Errorf("docs/json.md does not name %s", name)
		}
	}
}

func gather(v any, fields map[string]bool) {
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			gather(item, fields)
		}
	case map[string]any:
		for name, item := range v {
			fields[name] = true
			gather(item, fields)
		}
	}
}
