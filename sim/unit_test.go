package sim_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"ridethrough/sim"
)

const looked = twoUnits + `
[[host]]
name = "lone"
group = "rack_b"
draw_w = 300
[policy]
on_battery_for = "1m"
`

func siteOf(t *testing.T, text string) *sim.Scenario {
	t.Helper()
	s, err := sim.Parse("two.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestAlone: a unit by itself carries what hangs on it, wholly.
func TestAlone(t *testing.T) {
	s := siteOf(t, looked)
	for _, c := range []struct {
		unit  string
		hosts string
		group string
		peak  float64 // 600 W, or 900 W, of 2700 W, at a power factor of 0.95 of 3000 VA
	}{{"", "both", "rack_a", 600 / 2700.0}, {"b", "both lone", "rack_b", 900 / 2700.0}} {
		alone, err := s.Alone(c.unit)
		if err != nil {
			t.Fatal(err)
		}
		b, err := alone.Budget(sim.BudgetOptions{Margin: sim.UsualMargin})
		if err != nil {
			t.Fatal(err)
		}
		var hosts []string
		for _, h := range b.Hosts {
			hosts = append(hosts, h.Name)
		}
		if got := strings.Join(hosts, " "); got != c.hosts || len(b.Groups) != 1 || b.Groups[0].Name != c.group {
			t.Errorf("%q: hosts %s, groups %+v", c.unit, got, b.Groups)
		}
		st, err := alone.Stage(10*time.Second, false)
		if err != nil {
			t.Fatal(err)
		}
		if len(st.Groups) != 1 || st.Groups[0].Name != c.group || st.Groups[0].PeakPct < 100*c.peak-1 || st.PeakPct > 100*c.peak+3 {
			t.Errorf("%q: %+v", c.unit, st)
		}
	}
	if _, err := s.Alone("c"); err == nil || !strings.Contains(err.Error(), `there is no unit "c"; expected b`) {
		t.Error(err)
	}
}

// TestUnitsInReport: the acceptance report has the equipment and the bands of both units.
func TestUnitsInReport(t *testing.T) {
	result, err := sim.Run(siteOf(t, looked), sim.RunOptions{Report: true})
	if err != nil {
		t.Fatal(err)
	}
	var page bytes.Buffer
	if err := result.Report().HTML(&page); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Unit b: Battery", "unit b", "b: output fed by", "b: card", "as if the others were dead"} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the report says nothing of %q", want)
		}
	}
}
