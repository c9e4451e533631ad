package engine_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// unbalanced says by how much the energies do not add up, "" if to 0.1 % (or 1 mWh).
func unbalanced(p snap.Power) string {
	in, out := p.MainsWh+p.BatteryWh, p.OutputWh+p.LossWh
	if turnover := math.Max(p.MainsWh, math.Abs(p.BatteryWh)) + p.OutputWh; math.Abs(in-out) > 0.001*turnover+0.001 {
		return fmt.Sprintf("%.4f Wh in, %.4f Wh out: %+v", in, out, p)
	}
	return ""
}

// cases are sites that use every way that power can take.
func cases() map[string]string {
	outage := "[[at]]\ntime = \"1m\"\nsource = \"lost\"\n"
	back := "[[at]]\ntime = \"20m\"\nsource = \"normal\"\n"
	site := "title = \"t\"\nrun_for = \"10h\"\n[[host]]\nname = \"a\"\ndraw_w = 900\n"
	return map[string]string{
		"branch":     branch,
		"at rest":    site,
		"to the end": site + outage,
		"recharge":   site + outage + back,
		"two strings, hot": "title = \"t\"\nrun_for = \"10h\"\n[battery]\nstrings = 2\nambient_c = 35\n[[host]]\nname = \"a\"\ndraw_w = 2000\n" +
			outage + back,
		"boost":            site + "[[at]]\ntime = \"1m\"\nsource = {volts = 190}\n",
		"calibration":      site + "[[at]]\ntime = \"1m\"\ntest = \"deep-calibration\"\n",
		"charge by decree": site + "[[at]]\ntime = \"1m\"\ncharge_pct = 20\n[[at]]\ntime = \"2h\"\ncharge_pct = 90\n",
		"dead charger":     site + "[[at]]\ntime = \"30s\"\ncharger = \"failed\"\n" + outage + back,
		"output off":       site + "[[at]]\ntime = \"30s\"\noutput = \"off\"\n" + outage + back,
	}
}

// TestEnergyBalance: MainsWh + BatteryWh = OutputWh + LossWh, at every instant. The
// loss in the battery is worked out without looking at what it stores.
func TestEnergyBalance(t *testing.T) {
	for name, src := range cases() {
		t.Run(name, func(t *testing.T) {
			r := playtest.Start(t, src)
			for r.Engine.Now() < r.Plan.RunFor {
				r.Step()
				p := r.Site.Power
				if what := unbalanced(p); what != "" {
					t.Fatalf("at %v: %s", r.Engine.Now(), what)
				}
				if d := p.MainsW + p.BatteryW - p.OutputW - p.LossW; math.Abs(d) > 0.001*(p.MainsW+p.OutputW+1) {
					t.Fatalf("at %v: %+v", r.Engine.Now(), p)
				}
			}
			if p := r.Site.Power; p.OutputWh <= 0 || p.LossWh <= 0 {
				t.Errorf("nothing flowed: %+v", p)
			}
		})
	}
}

// TestEnergyBalanceCanFail: half a per cent of the turnover left out of the loss
// is found, on mains as on battery.
func TestEnergyBalanceCanFail(t *testing.T) {
	for name, src := range map[string]string{"mains": cases()["at rest"], "battery": cases()["to the end"]} {
		r := playtest.Start(t, src).To(10 * min)
		p := r.Site.Power
		if unbalanced(p) != "" {
			t.Fatal(unbalanced(p))
		}
		p.LossWh -= 0.005 * p.OutputWh
		if unbalanced(p) == "" {
			t.Errorf("%s: a wrong loss balances: %+v", name, p)
		}
	}
}

// TestLossHasItsSource: a unit with other converter losses takes more from its
// battery, by as much as the curve says.
func TestLossHasItsSource(t *testing.T) {
	src := strings.Replace(cases()["to the end"], "[[host]]", "[ups]\nbattery_loss = {no_load = NL, linear = 0, quadratic = 0}\n[[host]]", 1)
	loss := func(share string) snap.Power {
		return playtest.Start(t, strings.Replace(src, "NL", share, 1)).To(4 * min).Site.Power
	}
	low, high := loss("0"), loss("0.05")
	// 5 % of 2700 W for 3 minutes, and what it heats the battery more.
	want := 0.05 * 2700 * (3 * vtime.Minute).Hours()
	if got := high.LossWh - low.LossWh; got < want || got > 1.25*want {
		t.Errorf("%v Wh more, want a little more than %v", got, want)
	}
}

// TestChargingCosts: a tenth of what goes into the battery is lost on the way
// (common practice), beside what heats the battery.
func TestChargingCosts(t *testing.T) {
	r := playtest.Start(t, cases()["at rest"]).To(min)
	rest := r.Site.Power.LossW
	r.Inject("charge_pct = 20").To(2 * min)
	p, b := r.Site.Power, r.Site.Battery
	into := -b.Amps * b.Volts
	heat := into + p.BatteryW // at the terminals, less what is stored
	want := 0.10*into + heat
	// The float current at rest costs a little too.
	if got := p.LossW - rest; into < 50 || math.Abs(got-want) > 0.05*want {
		t.Errorf("%v W into the battery cost %v W, want %v", into, got, want)
	}
}
