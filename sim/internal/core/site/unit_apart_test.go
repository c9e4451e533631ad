package site_test

import (
	"encoding/json"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestUnitsScheduleWaits: what the schedule of the second card has wait for the mains waits
// for those of its own unit.
func TestUnitsScheduleWaits(t *testing.T) {
	src := strings.Replace(twoUnits, "[[unit]]", "[[unit]]\n", 1)
	src = strings.Replace(src, `address = "192.0.2.77/24"`, `address = "192.0.2.77/24"
[unit.card.settings]
"shutdown.schedule.off.days" = "mon"
"shutdown.schedule.off.at" = "20:00"
"shutdown.schedule.off.what" = "rack_b"
"shutdown.schedule.on.days" = "tue"
"shutdown.schedule.on.at" = "06:00"
"shutdown.schedule.on.do" = "on"
"shutdown.schedule.on.what" = "rack_b"`, 1)
	src = strings.Replace(src, "title", "start = 2026-06-15T12:00:00Z\ntitle", 1)
	r := playtest.Start(t, src).To(18*vtime.Hour - min).Inject("unit = \"b\"\ninput = \"open\"").To(18*vtime.Hour + min)
	if r.Site.Groups[1].On || r.Count("rack_b on waits for the mains") != 1 || r.Count("refused") != 0 {
		t.Errorf("%+v\n%s", r.Site.Groups, r.Trace())
	}
	if r.Inject("unit = \"b\"\ninput = \"closed\"").To(19 * vtime.Hour); !r.Site.Groups[1].On {
		t.Error("it is off with the mains back")
	}
}

// TestUnitsHeldAtStart: a machine whose group the second card has kept off since an earlier
// session has no power, and its program is not started.
func TestUnitsHeldAtStart(t *testing.T) {
	src := strings.Replace(twoUnits, "name = \"right\"\n", "name = \"right\"\nprocess = [\"program\"]\n", 1)
	p, err := scenario.Load("two.toml", []byte(src), scenario.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p.Units[0].Card.Memory = &snap.Memory{Sections: map[string]json.RawMessage{"groups-off": json.RawMessage(`["rack_b"]`)}}
	r := playtest.StartPlan(t, p).To(sec)
	if h := host(t, r, "right"); h.State != snap.HostOff || r.Site.Power.OutputW != 700 || unitB(r).Power.OutputW != 0 {
		t.Errorf("%+v, %v W and %v W", h, r.Site.Power.OutputW, unitB(r).Power.OutputW)
	}
	for _, e := range r.Procs {
		if e.Kind == snap.EffectSpawn {
			t.Errorf("started without power: %+v", e)
		}
	}
}

// TestUnitsInformOneSink: an inform of one card is no repetition of another card's.
func TestUnitsInformOneSink(t *testing.T) {
	const to = "\nreceivers = [{ to = \"192.0.2.20:162\", version = \"v2c\", inform = true }]"
	src := strings.ReplaceAll(twoUnits, `.10/24"`, `.10/24"`+to)
	src = strings.ReplaceAll(src, `.77/24"`, `.77/24"`+to) + `
[[server]]
name = "watch"
kind = "snmp"
address = "192.0.2.20"
sink = true
`
	r := playtest.Start(t, src).To(min).Inject(lost).To(2 * min)
	if k := r.Site.Sinks[0]; k.Repeats != 0 || k.Count < 4 || k.Count%2 != 0 {
		t.Errorf("%d arrived, %d repeated:\n%s", k.Count, k.Repeats, r.Trace())
	}
}

// TestUnitsGapTogether: two units on one feeder transfer together, and a machine on both is
// without power for as long as the quicker of them takes.
func TestUnitsGapTogether(t *testing.T) {
	for _, c := range []struct {
		b, inject string
		holds     string
		needed    int
		cuts      int
	}{
		{"30ms", lost, "20ms", 1, 0},
		{"30ms", lost, "5ms", 1, 1},
		{"30ms", lost, "20ms", 2, 1},
		{"30ms", "unit = \"b\"\ninput = \"open\"", "5ms", 1, 0},
		{"30ms", `input = "open"`, "5ms", 1, 0},
		{"3ms", lost, "5ms", 1, 0},
	} {
		src := strings.Replace(twoUnits, "[unit.card]", "[unit.ups]\ntransfer = \""+c.b+"\"\n[unit.card]", 1)
		src = strings.Replace(src, "name = \"both\"\n", "name = \"both\"\nhold_up = \""+c.holds+"\"\nsupplies_needed = "+string(rune('0'+c.needed))+"\n", 1)
		r := playtest.Start(t, src).To(min).Inject(c.inject).To(min + sec)
		if h := host(t, r, "both"); h.Cuts != c.cuts {
			t.Errorf("%+v: cut %d times\n%s", c, h.Cuts, r.Trace())
		}
	}
}

// TestUnitsNetworkOfAll: what happens to the network happens to all cards and is told once;
// the address that is kept for a card is its own.
func TestUnitsNetworkOfAll(t *testing.T) {
	src := strings.Replace(strings.Replace(twoUnits, `address = "192.0.2.10/24"`, "", 1), `address = "192.0.2.77/24"`, "", 1)
	r := playtest.Start(t, src).To(min)
	if a, b := r.Site.Card.Address.Prefix.String(), unitB(r).Card.Address.Prefix.String(); a != "192.0.2.10/24" || b != "192.0.2.11/24" {
		t.Fatalf("%s and %s", a, b)
	}
	r.Inject(`network = { router = "absent", offer = "192.0.2.50/24" }`).Inject(`dhcp = "absent"`).Inject(`network = { claim = "192.0.2.11" }`)
	r.To(2 * min)
	if b := unitB(r).Card.Address; b.State == "lease" || b.Prefix.IsValid() {
		t.Errorf("the second card keeps an address that another machine has taken: %+v", b)
	}
	for _, text := range []string{"router absent", "address server off", "another machine takes"} {
		if r.Count(text) != 1 {
			t.Errorf("%q told %d times:\n%s", text, r.Count(text), r.Trace())
		}
	}
	r.Inject(`network = { release = "192.0.2.11" }`).Inject(`dhcp = "present"`)
	for _, unit := range []string{"", "unit = \"b\"\n"} {
		r.Inject(unit + `link = "down"`).Inject(unit + `link = "up"`)
	}
	r.To(10 * min)
	if a, b := r.Site.Card.Address.Prefix.String(), unitB(r).Card.Address.Prefix.String(); a != "192.0.2.50/24" || b != "192.0.2.11/24" {
		t.Errorf("%s and %s\n%s", a, b, r.Trace())
	}
}

// TestUnitsOneGenerator: all units on a feeder live on its generator, which bears them
// together; whoever has a feeder of its own does not.
func TestUnitsOneGenerator(t *testing.T) {
	const generator = `
[source]
generator = { rating_w = 4000, start_after = "3s", start_takes = "9s", settles = "0s", cools_down = "3m" }
changeover = { gap = "400ms", accept = "5s", watch = "4m" }
`
	r := playtest.Start(t, twoUnits+generator).To(min).Inject(lost).To(30 * min)
	if b := unitB(r); b.UPS.Source != snap.SourceNormal || b.Supply.Switch != snap.OnGenerator || b.Supply.LoadPct != r.Site.Supply.LoadPct {
		t.Errorf("%v, %+v, %+v", b.UPS.Source, b.Supply, r.Site.Supply)
	}
	if got := r.Site.Supply.LoadPct; got < 100*900/4000.0 || got > 100*1200/4000.0 {
		t.Errorf("the generator bears %.1f %%", got)
	}
	r.Inject("unit = \"b\"\ngenerator = \"failed\"").To(31 * min)
	if r.Site.UPS.Source != snap.SourceBattery || unitB(r).UPS.Source != snap.SourceBattery {
		t.Errorf("%v and %v", r.Site.UPS.Source, unitB(r).UPS.Source)
	}
	r.Inject(normal).To(32 * min)
	if r.Site.UPS.Source != snap.SourceNormal || unitB(r).UPS.Source != snap.SourceNormal {
		t.Errorf("back: %v and %v", r.Site.UPS.Source, unitB(r).UPS.Source)
	}

	own := strings.Replace(twoUnits, "[unit.card]", "[unit.source]\n[unit.card]", 1)
	r = playtest.Start(t, own+generator).To(min).Inject(lost).Inject("unit = \"b\"\n" + lost).To(10 * min)
	if r.Site.UPS.Source != snap.SourceNormal || unitB(r).UPS.Source != snap.SourceBattery {
		t.Errorf("a feeder of its own: %v and %v", r.Site.UPS.Source, unitB(r).UPS.Source)
	}
}

// TestUnitsMainsHangOnFirst: what is fed past the units is no burden of the generator that a
// further unit has for itself.
func TestUnitsMainsHangOnFirst(t *testing.T) {
	own := strings.Replace(twoUnits, "[unit.card]", `[unit.source]
generator = { rating_w = 4000, start_after = "3s", start_takes = "9s", settles = "0s", cools_down = "3m" }
[unit.card]`, 1) + "[[group]]\nname = \"wall\"\nfed_by = \"mains\"\n[[host]]\nname = \"light\"\ngroup = \"wall\"\ndraw_w = 2000\n"
	r := playtest.Start(t, own).To(min).Inject("unit = \"b\"\n" + lost).To(30 * min)
	if s := unitB(r).Supply; s.Switch != snap.OnGenerator || s.LoadPct > 100*800/4000.0 {
		t.Errorf("%+v", s)
	}
}

// TestUnitsGeneratorSplitSteps: whatever the steps.
func TestUnitsGeneratorSplitSteps(t *testing.T) {
	play := func(every vtime.Tick) string {
		r := playtest.Start(t, twoUnits+lookedAfter+"[source]\ngenerator = { rating_w = 1500 }\n")
		for at := every; at <= 20*min; at += every {
			if r.To(at); at == min {
				r.Inject(lost)
			}
			if at == 10*min {
				r.Inject(normal)
			}
		}
		return r.Trace()
	}
	if coarse, fine := play(min), play(100*vtime.Millisecond*3); coarse != fine {
		t.Errorf("the traces differ:\n%s\n%s", coarse, fine)
	}
}

// TestUnitsOneAddress: a card that is set to the address of another card does not use it as
// long as that one does.
func TestUnitsOneAddress(t *testing.T) {
	r := playtest.Start(t, twoUnits).To(min).Inject("unit = \"b\"\nsettings = { \"reach.address\" = \"192.0.2.10/24\" }").Inject("unit = \"b\"\ncard = \"restart\"").To(10 * min)
	if a, b := r.Site.Card.Address, unitB(r).Card.Address; a.State != "fixed" || b.State != snap.AddressDuplicate || b.Prefix.IsValid() {
		t.Errorf("%+v and %+v\n%s", a, b, r.Trace())
	}
	r.Inject(`card = "remove"`).To(15 * min)
	if b := unitB(r).Card.Address; b.State != "fixed" || b.Prefix.String() != "192.0.2.10/24" {
		t.Errorf("with the other away: %+v", b)
	}
	r.Inject(`card = "insert"`).To(20 * min)
	if a := r.Site.Card.Address; a.State != snap.AddressDuplicate {
		t.Errorf("back, and the address is in use: %+v", a)
	}
}

// TestUnitsCauseInTime: why a group of the second unit is off is known at the instant at
// which it goes off, though somebody has just asked the first card.
func TestUnitsCauseInTime(t *testing.T) {
	src := strings.Replace(twoUnits, "unit = \"b\"\n", "unit = \"b\"\nshed_after = \"30s\"\n", 1)
	r := playtest.Start(t, src+lookedAfter+"units = \"first\"\n").To(min - 10*sec).Inject("unit = \"b\"\ncard = \"remove\"")
	r.To(min).Inject("unit = \"b\"\ninput = \"open\"").To(90 * sec)
	if g := r.Site.Groups[1]; g.On || g.Cause != snap.CauseShed {
		t.Errorf("%+v", g)
	}
}
