package device_test

import (
	"math"
	"strconv"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
)

// three is a unit of three lines in, with a host of 400 W, one of 300 W and one of
// 200 W, each on a line of its own if there are so many, beside the host of unit,
// which is spread; all at a power factor of 1.
func three(phases string) string {
	src := of(doubled+"\nphases = \""+phases+"\"") + "power_factor = 1\n"
	for i, watts := range []string{"400", "300", "200"} {
		src += "[[host]]\nname = \"h" + strconv.Itoa(i+1) + "\"\npower_factor = 1\ndraw_w = " + watts + "\n"
		if phases == "3/3" {
			src += "line = " + strconv.Itoa(i+1) + "\n"
		}
	}
	return src
}

// TestLineCounts: RFC 1628 upsInputNumLines, upsOutputNumLines and
// upsBypassNumLines; a unit of one line shows no others (field row 36).
func TestLineCounts(t *testing.T) {
	for phases, want := range map[string][3]int{"1/1": {1, 1, 1}, "2/2": {2, 2, 2}, "3/1": {3, 1, 1}, "3/3": {3, 3, 3}} {
		r := playtest.Start(t, of(doubled+"\nphases = \""+phases+"\""))
		if got := [3]int{r.Site.Input.Count, r.Site.Output.Count, r.Site.Bypass.Count}; got != want {
			t.Errorf("%s: %v lines in, out, bypass; want %v", phases, got, want)
		}
		for i, l := range r.Site.Input.Lines {
			if (l.Volts == 230) != (i < want[0]) || (l.Watts > 0) != (i < want[0]) {
				t.Errorf("%s: input line %d: %+v", phases, i+1, l)
			}
		}
	}
	if r := playtest.Start(t, unit); r.Site.Bypass.Count != 0 {
		t.Errorf("a unit without bypass shows %d lines of it", r.Site.Bypass.Count)
	}
}

// TestPhaseLost: any one line out of tolerance sends the output to the battery,
// and the event counts once, however many lines follow (RFC 1628
// upsInputLineBads).
func TestPhaseLost(t *testing.T) {
	for _, phases := range []string{"3/1", "3/3"} {
		for line := 1; line <= 3; line++ {
			r := playtest.Start(t, three(phases)).To(min).Inject("source = {line = " + strconv.Itoa(line) + ", volts = 0}")
			u := r.Site.UPS
			bypass := phases == "3/1" && line > 1 // its bypass is line 1
			if u.Source != snap.SourceBattery || u.LineBads != 1 || u.BypassGood != bypass || !r.Site.Feed.Bad[line-1] {
				t.Errorf("%s line %d: %+v, %v", phases, line, u, r.Site.Feed.Bad)
			}
			r.Inject("source = {line = " + strconv.Itoa(1+line%3) + ", volts = 100}").To(2 * min)
			if r.Site.UPS.LineBads != 1 || r.Site.Transfers != 1 {
				t.Errorf("%s: a second line counts again: %d", phases, r.Site.UPS.LineBads)
			}
			if r.Inject(`source = "normal"`).To(3 * min); r.Site.UPS.Source != snap.SourceNormal {
				t.Errorf("%s: %v", phases, r.Site.UPS.Source)
			}
		}
	}
}

// TestSplitPhase: two lines. Each has half of the rating, line 3 of the supply is
// no line of the unit's, and what hangs between the lines is on both.
func TestSplitPhase(t *testing.T) {
	src := "[source]\nnominal_v = 120\nfrequency_hz = 60\n[[host]]\nname = \"one\"\nline = 2\npower_factor = 1\ndraw_w = 675\n"
	r := playtest.Start(t, of(doubled+"\nphases = \"2/2\"")+"power_factor = 1\n"+src).To(min)
	for i, watts := range []float64{300, 975} { // 600 W between the lines
		l := r.Site.Output.Lines[i]
		if math.Abs(l.Watts-watts) > 1e-9 || math.Abs(l.Amps-watts/120) > 1e-9 || math.Abs(l.LoadPct-watts/13.5) > 1e-9 {
			t.Errorf("line %d: %+v, want %v W", i+1, l, watts)
		}
	}
	if r.Inject("source = {line = 3, volts = 0}").To(2 * min); r.Site.UPS.LineBads != 0 || r.Site.UPS.Source != snap.SourceNormal {
		t.Errorf("line 3: %v", r.Site.UPS.Source)
	}
	for line := 1; line <= 2; line++ {
		r.Inject("source = {line = " + strconv.Itoa(line) + ", volts = 0}").To(r.Engine.Now() + min)
		if u := r.Site.UPS; u.Source != snap.SourceBattery || int(u.LineBads) != line || u.BypassGood {
			t.Errorf("line %d: %+v", line, u)
		}
		r.Inject(`source = "normal"`).To(r.Engine.Now() + min)
	}
}

// TestLineHysteresis: each line has a hysteresis of its own: the second comes
// back at 155 V, not at 150, while the others never left.
func TestLineHysteresis(t *testing.T) {
	r := playtest.Start(t, three("3/3"))
	for i, step := range []struct {
		volts string
		bad   bool
	}{{"149", true}, {"154", true}, {"155", false}, {"151", false}} {
		r.Inject("source = {line = 2, volts = " + step.volts + "}").To(r.Engine.Now() + min)
		if r.Site.Feed.Bad != [3]bool{false, step.bad, false} {
			t.Errorf("step %d, %s V: %v", i, step.volts, r.Site.Feed.Bad)
		}
	}
	if got := r.Site.UPS.LineBads; got != 1 {
		t.Errorf("%d line bads", got)
	}
}

// TestLoadOfLines: each line has its share of the rating; the fullest one counts
// (1000 VA a line), and trips for all.
func TestLoadOfLines(t *testing.T) {
	r := playtest.Start(t, three("3/3")).Inject(draw(300))
	for i, watts := range []float64{500, 400, 300} {
		l := r.Site.Output.Lines[i]
		if math.Abs(l.Watts-watts) > 1e-9 || math.Abs(l.Amps-watts/230) > 1e-9 || math.Abs(l.LoadPct-watts/9) > 1e-9 {
			t.Errorf("line %d: %+v, want %v W", i+1, l, watts)
		}
	}
	if got := r.Site.Power.LoadPct; math.Abs(got-500.0/9) > 1e-9 {
		t.Errorf("load %v %%", got)
	}
	r.Inject("host = \"h1\"\ndraw_w = 1250") // 1350 W of 900 W on line 1
	if got := changed(r, snap.SourceNormal, 2*min).Seconds(); math.Abs(got-27) > 0.0011 || r.Site.UPS.Source != snap.SourceBypass {
		t.Errorf("150 %% on one line: %v after %v s", r.Site.UPS.Source, got)
	}
	for i, l := range r.Site.Bypass.Lines {
		if l.Watts < r.Site.Output.Lines[i].Watts || l.Volts != 230 {
			t.Errorf("bypass line %d: %+v", i+1, l)
		}
	}
}

// TestBypassLines: on the bypass each line of the output is its line of the
// supply; the rectifier draws evenly from all three whatever hangs where.
func TestBypassLines(t *testing.T) {
	r := playtest.Start(t, three("3/3")).To(min)
	in := r.Site.Input.Lines
	if math.Abs(in[0].Watts-in[2].Watts) > 1e-9 || in[0].Watts < 400 {
		t.Errorf("input: %+v", in)
	}
	r.Inject("source = {line = 3, volts = 220}").Inject(`bypass = "on"`)
	if got := r.Site.Output.Lines; got[0].Volts != 230 || got[2].Volts != 220 {
		t.Errorf("output on bypass: %+v", got)
	}
}
