package scenario

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

// TestUnits: a further unit has what is its own and shares what the site has.
func TestUnits(t *testing.T) {
	p := loadUnits(t, "")
	if len(p.Units) != 1 {
		t.Fatalf("%d further units", len(p.Units))
	}
	a, b := p, p.Units[0]
	if b.Unit != 1 || b.UnitName != "feed_b" || !b.SharedSource || b.RunFor != a.RunFor || !b.Start.Equal(a.Start) {
		t.Errorf("%+v", b)
	}
	if b.UPS.RatingVA != 5000 || a.UPS.RatingVA == 5000 || b.Battery.ChargePct == a.Battery.ChargePct {
		t.Errorf("%v and %v VA, charged %v and %v", a.UPS.RatingVA, b.UPS.RatingVA, a.Battery.ChargePct, b.Battery.ChargePct)
	}
	if x, y := &a.Card.Identity, &b.Card.Identity; x.SerialNumber == y.SerialNumber || x.Hardware == y.Hardware || a.Card.Settings.ReadCommunity.Same(b.Card.Settings.ReadCommunity) {
		t.Errorf("two cards that are one: %+v %+v", x, y)
	}
	if a.Network.Offer.String() != "192.0.2.10/24" || b.Network.Offer.String() != "192.0.2.11/24" {
		t.Errorf("offers %v and %v", a.Network.Offer, b.Network.Offer)
	}
	if !a.Feeds(0) || a.Feeds(1) || a.Feeds(2) || b.Feeds(0) || !b.Feeds(1) || b.Feeds(2) {
		t.Errorf("groups %+v", a.Groups)
	}
	if x, y := a.Card.Settings.Groups, b.Card.Settings.Groups; len(x) != 1 || x[0].Name != "rack_a" || len(y) != 1 || y[0].Name != "rack_b" {
		t.Errorf("the cards know of %+v and %+v", x, y)
	}
	if e := p.Entries; e[0].Unit != 0 || e[1].Unit != 1 || e[1].Actions[0].Kind != plan.ActInput {
		t.Errorf("%+v", e)
	}
}

// TestUnitPolicy: the shutdown manager watches all units or one; the probe is at the first.
func TestUnitPolicy(t *testing.T) {
	p := loadUnits(t, `[policy]
on_battery_for = "1m"
inlet_above_c = 40
inlet_probe = "inlet"
[[probe]]
name = "inlet"
`)
	if q := p.Units[0].Policy; q == nil || q.OnBatteryFor != vtime.Minute || q.Inlet != "" || p.Policy.Inlet == "" {
		t.Errorf("%+v", q)
	}
	p = loadUnits(t, "[policy]\non_battery_for = \"1m\"\nunits = \"first\"\n")
	if p.Policy == nil || p.Units[0].Policy != nil {
		t.Errorf("%+v", p.Units[0].Policy)
	}
}

// TestInjectForUnit: the bench reaches a unit by its name, and none that is not there.
func TestInjectForUnit(t *testing.T) {
	inject := Injector(loadUnits(t, ""))
	e, err := inject(`unit = "feed_b"` + "\n" + `input = "open"`)
	if err != nil || e.Unit != 1 {
		t.Errorf("%+v, %v", e, err)
	}
	for text, want := range map[string]string{
		`unit = "feed_c"` + "\n" + `input = "open"`:     `entry:1:8: there is no unit "feed_c"; expected one of feed_b; did you mean "feed_b"?`,
		`unit = "feed_b"` + "\n" + `cooling = "failed"`: `entry:2:11: cooling stands beside unit, and is not of a unit; expected an entry without unit for it`,
		`unit = "feed_b"` + "\n" + `source = "lost"`:    `entry:2:10: unit feed_b is on the feeder of the first one: what happens to that happens to both; expected input = "open" for its own breaker, a table [unit.source] for a feeder of its own, or an entry without unit`,
	} {
		if _, err := inject(text); err == nil || err.Error() != want {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// TestUnitsOwnSerials: two cards with one serial number would have one memory.
func TestUnitsOwnSerials(t *testing.T) {
	const text = "title = \"two\"\nrun_for = \"1h\"\n[[group]]\nname = \"a\"\n[[group]]\nname = \"c\"\nunit = \"b\"\n[card]\nserial_number = \"RT-1\"\n[[unit]]\nname = \"b\"\n[unit.card]\nserial_number = "
	_, err := Load("u.toml", []byte(text+"\"RT-1\"\n"), Options{})
	if want := "u.toml:13:17: the card of unit b has the serial number of that of the first unit, RT-1; expected a serial number of its own for each card"; err == nil || err.Error() != want {
		t.Error(err)
	}
	if _, err := Load("u.toml", []byte(text+"\"RT-2\"\n"), Options{}); err != nil {
		t.Error(err)
	}
}

// TestUnitsOffersAreFree: a further card is offered no address that somebody has.
func TestUnitsOffersAreFree(t *testing.T) {
	p := loadUnits(t, `[[peer]]
name = "desk"
address = "192.0.2.11/24"
[[server]]
name = "relay"
kind = "mail"
address = "192.0.2.12"
[[time_server]]
name = "clock"
address = "192.0.2.13"
[network]
taken = ["192.0.2.14"]
`)
	if got := p.Units[0].Network.Offer.String(); got != "192.0.2.15/24" {
		t.Error(got)
	}
}

// TestUnitsPlacesOfErrors: what is wrong in a further unit is found there.
func TestUnitsPlacesOfErrors(t *testing.T) {
	for key, want := range map[string]string{
		`switch = "rack"`:        `u.toml:10:10: there is no switch "rack"; expected none, because the file has no switch`,
		`offer = "192.0.2.0/24"`: "u.toml:10:9: ",
	} {
		_, err := Load("u.toml", []byte("title = \"two\"\nrun_for = \"1h\"\n[[group]]\nname = \"a\"\n[[group]]\nname = \"c\"\nunit = \"b\"\n[[unit]]\nname = \"b\"\n"+key+"\n"), Options{})
		if err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%s: %v", key, err)
		}
	}
}

func loadUnits(t *testing.T, more string) *plan.Plan {
	t.Helper()
	p, err := Load("units.toml", []byte(`title = "two"
run_for = "1h"
[[unit]]
name = "feed_b"
ups = { rating_va = 5000, rating_w = 4500 }
battery = { charge_pct = 80 }
[[group]]
name = "rack_a"
[[group]]
name = "rack_b"
unit = "feed_b"
[[group]]
name = "wall"
fed_by = "mains"
[[host]]
name = "both"
groups = ["rack_a", "rack_b"]
draw_w = 100
[[at]]
time = "1m"
input = "open"
[[at]]
time = "2m"
unit = "feed_b"
input = "open"
`+more), Options{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}
