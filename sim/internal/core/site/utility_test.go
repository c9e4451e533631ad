package site_test

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// times are the ticks of the lines of the trace with text.
func times(t *testing.T, r *playtest.Run, text string) (list []vtime.Tick) {
	t.Helper()
	for line := range strings.Lines(r.Trace()) {
		if at, rest, _ := strings.Cut(line, " "); strings.Contains(rest, text) && !strings.HasPrefix(rest, "=") {
			list = append(list, tick(at))
		}
	}
	return list
}

// once is the one tick at which the trace has text.
func once(t *testing.T, r *playtest.Run, text string) vtime.Tick {
	t.Helper()
	list := times(t, r, text)
	if len(list) != 1 {
		t.Fatalf("%q is there %d times:\n%s", text, len(list), r.Trace())
	}
	return list[0]
}

// TestDriftCrossesToTheTick: 230 V fall to 150 V in 1000 s from 60 s on, 0.08 V a
// second. Every limit is left at the first tick beyond it.
func TestDriftCrossesToTheTick(t *testing.T) {
	r := playtest.Start(t, head+one+`
[ups]
low_transfer_v = 177
boost_below_v = 207
[[at]]
time = "60s"
source = {volts = 150, over = "1000s"}
[[at]]
when = "source.volts < 199.9"
note = "under"
`).To(20 * min)
	after := func(volts float64) vtime.Tick { // the first tick below
		return 60*sec + vtime.Tick(math.Floor((230-volts)/0.08*1000+1e-6)) + 1
	}
	for text, volts := range map[string]float64{"output: booster": 207, "note: under": 199.9, "input: bad": 177} {
		if got, want := once(t, r, text), after(volts); got != want {
			t.Errorf("%s at %v, want %v", text, got, want)
		}
	}
	if got := r.Site.Feed.Volts; got != 150 {
		t.Errorf("ends at %v V", got)
	}
}

// TestDriftDoesNotMindStops: what happens in a drift happens at its tick, whoever
// else stops the run.
func TestDriftDoesNotMindStops(t *testing.T) {
	src := head + one + "[[at]]\ntime = \"60s\"\nsource = {volts = 170, hz = 53.5, over = \"10m\"}\n[[at]]\ntime = \"12m\"\nsource = {volts = 260, over = \"5m\"}\n"
	whole, stopped := playtest.Start(t, src).To(20*min), playtest.Start(t, src)
	for at := vtime.Tick(0); at < 20*min; at += 777 {
		stopped.To(at)
	}
	stopped.To(20 * min)
	for _, text := range []string{"output: booster", "input: bad", "input: good", "output: normal", "output: reducer"} {
		if diff := cmp.Diff(times(t, whole, text), times(t, stopped, text)); diff != "" {
			t.Errorf("%s (-whole +stopped):\n%s", text, diff)
		}
	}
}

// TestTrain: incident of a storm: twelve dips of 0.3 to 2 s. Each is one event,
// and one transfer; the times come from the seed.
func TestTrain(t *testing.T) {
	src := head + one + `
[[at]]
time = "1m"
source = {sag_pct = 40, lasts = "300ms", lasts_up_to = "2s", count = 12, every = "15s", jitter = "5s"}
`
	r := playtest.Start(t, src).To(10 * min)
	begins, ends := times(t, r, "input: bad"), times(t, r, "source: disturbance over")
	if len(begins) != 12 || len(ends) != 12 || r.Site.UPS.LineBads != 12 || r.Site.Transfers != 12 {
		t.Fatalf("%d begin, %d end, %d line bads, %d transfers", len(begins), len(ends), r.Site.UPS.LineBads, r.Site.Transfers)
	}
	if r.Site.Supply.Events != 12 || r.Site.Supply.NotBorne != 12 {
		t.Errorf("%+v", r.Site.Supply)
	}
	different := map[vtime.Tick]bool{}
	for i := range begins {
		if d := ends[i] - begins[i]; d < 300 || d > 2000 {
			t.Errorf("dip %d lasts %v", i, d)
		} else {
			different[d] = true
		}
		if i > 0 {
			if d := begins[i] - begins[i-1]; d < 15*sec || d > 20*sec {
				t.Errorf("dip %d comes %v after the one before", i, d)
			}
		}
	}
	if len(different) < 10 {
		t.Errorf("only %d different lengths", len(different))
	}
	if again := playtest.Start(t, src).To(10 * min); again.Trace() != r.Trace() {
		t.Error("the same seed gives another train")
	}
	other := playtest.Start(t, strings.Replace(src, "run_for", "seed = 2\nrun_for", 1)).To(10 * min)
	if cmp.Equal(times(t, other, "input: bad"), begins) {
		t.Error("another seed gives the same train")
	}
}

// TestOneMoreTrainShiftsNoOther: every train draws from a stream of its own.
func TestOneMoreTrainShiftsNoOther(t *testing.T) {
	train := `source = {sag_pct = 40, lasts = "1s", count = 3, every = "20s", jitter = "10s"}`
	second := "[[at]]\ntime = \"5m\"\n" + train + "\n"
	src := head + one + "[[at]]\ntime = \"1m\"\n" + train + "\n" + second
	longer := head + one + "[[at]]\ntime = \"1m\"\n" + strings.Replace(train, "count = 3", "count = 8", 1) + "\n" + second
	a, b := playtest.Start(t, src).To(10*min), playtest.Start(t, longer).To(10*min)
	if diff := cmp.Diff(times(t, a, "input: bad")[3:], times(t, b, "input: bad")[8:]); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestEventsByTheirNames: IEEE 1159-2009 and the ITI curve, in the trace when they
// are over.
func TestEventsByTheirNames(t *testing.T) {
	r := playtest.Start(t, head+one)
	at := min
	for _, c := range []struct{ source, want string }{
		{`{sag_pct = 60, lasts = "300ms"}`, "instantaneous sag: 60.0 % for 0.300 s, not borne"},
		{`{sag_pct = 75, lasts = "400ms"}`, "instantaneous sag: 75.0 % for 0.400 s, borne"},
		{`{sag_pct = 0, lasts = "2s"}`, "momentary interruption: 0.0 % for 2.000 s, not borne"},
		{`{swell_pct = 115, lasts = "20s"}`, "temporary swell: 115.0 % for 20.000 s, not borne"},
		{`{sag_pct = 85, lasts = "90s"}`, "undervoltage: 85.0 % for 90.000 s, not borne"},
		{`{sag_pct = 0, lasts = "15ms"}`, "momentary interruption: 0.0 % for 0.015 s, borne"},
	} {
		r.To(at).Inject("source = " + c.source)
		at += 4 * min
		if r.To(at); r.Count("source: "+c.want) != 1 {
			t.Errorf("%s: no %q in\n%s", c.source, c.want, r.Trace())
		}
	}
	if s := r.Site.Supply; s.Events != 6 || s.NotBorne != 4 {
		t.Errorf("%+v", s)
	}
}

// TestInputBreaker: it takes the supply from the unit only.
func TestInputBreaker(t *testing.T) {
	r := playtest.Start(t, head+one).To(min).Inject(`input = "open"`)
	if r.Site.Feed.Good || r.Site.UPS.Source != snap.SourceBattery || r.Site.Supply.Events != 0 {
		t.Errorf("open: %+v, %v", r.Site.Feed, r.Site.UPS.Source)
	}
	r.To(2 * min).Inject(`source = {sag_pct = 0, lasts = "5s"}`).To(3 * min).Inject(`input = "closed"`).To(4 * min)
	if r.Site.UPS.Source != snap.SourceNormal || r.Site.Transfers != 1 {
		t.Errorf("closed: fed by %v after %d transfers", r.Site.UPS.Source, r.Site.Transfers)
	}
}

// TestOneLine: a dead line of three is a bad input of a three-phase unit, counted
// once from none to one or more (RFC 1628 upsInputLineBads), and its own event.
func TestOneLine(t *testing.T) {
	r := playtest.Start(t, head+one+"[ups]\ntopology = \"VFI\"\nphases = \"3/1\"\n").To(min).Inject(`source = {line = 2, volts = 0}`)
	f := r.Site.Feed
	if f.V != [3]float64{230, 0, 230} || f.Hz != 50 || f.Good || f.Bad != [3]bool{false, true, false} || r.Site.UPS.LineBads != 1 {
		t.Fatalf("%+v, %d bads", f, r.Site.UPS.LineBads)
	}
	if r.To(2 * min).Inject(`source = {line = 3, volts = 100}`); r.Site.UPS.LineBads != 1 {
		t.Errorf("%d bads", r.Site.UPS.LineBads)
	}
	r.To(3 * min).Inject(`source = "normal"`).To(4 * min)
	if r.Count("sustained interruption on line 2") != 1 || r.Count("temporary sag on line 3") != 1 || !r.Site.Feed.Good {
		t.Error(r.Trace())
	}
}
