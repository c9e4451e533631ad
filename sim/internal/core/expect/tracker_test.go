package expect

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// script is what three conditions do second by second: the letters a, b and c
// stand in the text of a second while the condition of that letter holds.
type script []string

func letter(l byte) *plan.Cond {
	return &plan.Cond{Text: string(l), Eval: func(s *snap.Site) bool {
		for i := range len(s.UPS.Model) {
			if s.UPS.Model[i] == l {
				return true
			}
		}
		return false
	}}
}

func (s script) site(second int) *snap.Site {
	site := &snap.Site{}
	site.Tick = vtime.Tick(second) * vtime.Second
	site.UPS.Model = s[second]
	return site
}

func (s script) judge(t *testing.T, e plan.Expect) Verdict {
	t.Helper()
	tr, err := New([]plan.Expect{e}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := range s {
		tr.Observe(s.site(i))
	}
	return tr.Finish(s.site(len(s) - 1))[0]
}

func TestForms(t *testing.T) {
	a, b, c := letter('a'), letter('b'), letter('c')
	sec := func(n int) vtime.Tick { return vtime.Tick(n) * vtime.Second }
	for _, tc := range []struct {
		name   string
		e      plan.Expect
		script script
		want   string
	}{
		{"always held", plan.Expect{Form: plan.Always}, script{"a", "a", "a"}, "met 2s: it held from 0:00:00.000 until the end at 0:00:02.000"},
		{"always broken", plan.Expect{Form: plan.Always}, script{"a", "", "a"}, "missed 1s: it did not hold at 0:00:01.000"},
		{"always broken at the start", plan.Expect{Form: plan.Always}, script{"", "a"}, "missed 0s: it did not hold at 0:00:00.000"},
		{"always broken at the end", plan.Expect{Form: plan.Always}, script{"a", ""}, "missed 1s: it did not hold at 0:00:01.000"},
		{"always in a window", plan.Expect{Form: plan.Always, After: b, Until: c}, script{"", "ab", "a", "c", ""}, "met 3s: it held from 0:00:01.000 until its window closed at 0:00:03.000"},
		{"always broken in a window", plan.Expect{Form: plan.Always, After: b, Until: c}, script{"", "ab", "", "c"}, "missed 2s: it did not hold at 0:00:02.000"},
		{"window opens once only", plan.Expect{Form: plan.Always, After: b, Until: c}, script{"ab", "c", "b"}, "met 1s: it held from 0:00:00.000 until its window closed at 0:00:01.000"},
		{"always, no window", plan.Expect{Form: plan.Always, After: b}, script{"a", "a"}, "not-reached 1s: its window never opened: b was never true"},
		{"always, empty window", plan.Expect{Form: plan.Always, After: b, Until: c}, script{"a", "bc", "b"}, "not-reached 1s: its window was empty"},
		{"always, until alone", plan.Expect{Form: plan.Always, Until: c}, script{"a", "c", ""}, "met 1s: it held from 0:00:00.000 until its window closed at 0:00:01.000"},

		{"never held", plan.Expect{Form: plan.NeverHolds}, script{"", "b"}, "met 1s: it did not hold from 0:00:00.000 until the end at 0:00:01.000"},
		{"never broken", plan.Expect{Form: plan.NeverHolds}, script{"", "a"}, "missed 1s: it held at 0:00:01.000"},
		{"never, outside its window", plan.Expect{Form: plan.NeverHolds, After: b, Until: c}, script{"a", "b", "ac"}, "met 2s: it did not hold from 0:00:01.000 until its window closed at 0:00:02.000"},
		{"never, no window", plan.Expect{Form: plan.NeverHolds, After: b}, script{"a", "a"}, "not-reached 1s: its window never opened: b was never true"},

		{"once", plan.Expect{Form: plan.Once}, script{"", "a", "a", ""}, "met 1s: it became true at 0:00:01.000 only"},
		{"twice", plan.Expect{Form: plan.Once}, script{"", "a", "", "a"}, "missed 3s: it became true at 0:00:01.000 and again at 0:00:03.000"},
		{"not once", plan.Expect{Form: plan.Once}, script{"", ""}, "missed 1s: it did not become true from 0:00:00.000 until the end at 0:00:01.000"},
		{"true from the start is not becoming", plan.Expect{Form: plan.Once}, script{"a", "a"}, "missed 1s: it did not become true from 0:00:00.000 until the end at 0:00:01.000"},
		{"once as the window opens", plan.Expect{Form: plan.Once, After: b}, script{"", "ab", ""}, "met 1s: it became true at 0:00:01.000 only"},
		{"once, counted in the window only", plan.Expect{Form: plan.Once, After: b, Until: c}, script{"", "a", "b", "a", "c", "a"}, "met 3s: it became true at 0:00:03.000 only"},

		{"at", plan.Expect{Form: plan.At, Time: sec(1)}, script{"", "a", ""}, "met 1s: it held at 0:00:01.000"},
		{"at, not then", plan.Expect{Form: plan.At, Time: sec(1)}, script{"a", "", "a"}, "missed 1s: it did not hold at 0:00:01.000"},
		{"at between two grid points, as before", plan.Expect{Form: plan.At, Time: sec(1) / 2}, script{"a", ""}, "met 0.5s: it held at 0:00:00.500"},
		{"at, beyond the end", plan.Expect{Form: plan.At, Time: sec(9)}, script{"a", "a"}, "not-reached 1s: the run ended at 0:00:01.000"},

		{"by", plan.Expect{Form: plan.By, Time: sec(2)}, script{"", "a", ""}, "met 1s: it held at 0:00:01.000"},
		{"by, on the last moment", plan.Expect{Form: plan.By, Time: sec(1)}, script{"", "a"}, "met 1s: it held at 0:00:01.000"},
		{"by, too late", plan.Expect{Form: plan.By, Time: sec(1)}, script{"", "", "a"}, "missed 1s: it had not held by 0:00:01.000"},
		{"by, run too short", plan.Expect{Form: plan.By, Time: sec(9)}, script{"", ""}, "not-reached 1s: the run ended at 0:00:01.000"},

		{"within", plan.Expect{Form: plan.Within, After: b, Time: sec(2)}, script{"a", "b", "", "a"}, "met 3s: it held at 0:00:03.000, 0:00:02.000 after 0:00:01.000"},
		{"within, too late", plan.Expect{Form: plan.Within, After: b, Time: sec(1)}, script{"", "b", "", "a"}, "missed 2s: it had not held by 0:00:02.000"},
		{"within, run too short", plan.Expect{Form: plan.Within, After: b, Time: sec(9)}, script{"", "b", ""}, "not-reached 2s: the run ended at 0:00:02.000, before 0:00:09.000 had passed"},
		{"within, not begun", plan.Expect{Form: plan.Within, After: b, Time: sec(1)}, script{"a", "a"}, "not-reached 1s: its window never opened: b was never true"},

		{"at the end", plan.Expect{Form: plan.AtEnd}, script{"", "a"}, "met 1s: it held at the end, 0:00:01.000"},
		{"not at the end", plan.Expect{Form: plan.AtEnd}, script{"a", ""}, "missed 1s: it did not hold at the end, 0:00:01.000"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			tc.e.That = *a
			v := tc.script.judge(t, tc.e)
			if got := fmt.Sprintf("%v %vs: %s", v.State, v.At.Seconds(), v.Because); got != tc.want {
				t.Errorf("got  %s\nwant %s", got, tc.want)
			}
		})
	}
}

// TestNextFollowsOpenClaims: the engine is sent to the moments that decide, and
// to no others.
func TestNextFollowsOpenClaims(t *testing.T) {
	a, b := letter('a'), letter('b')
	tr, err := New([]plan.Expect{
		{Form: plan.At, That: *a, Time: 5 * vtime.Second},
		{Form: plan.By, That: *a, Time: 3 * vtime.Second},
		{Form: plan.Within, That: *a, After: b, Time: 3 * vtime.Second},
		{Form: plan.Always, That: *a},
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	s := script{"", "b", "a", "", "", "", ""}
	var got []vtime.Tick
	for i := range s {
		tr.Observe(s.site(i))
		got = append(got, tr.Next(s.site(i).Tick))
	}
	want := []vtime.Tick{3000, 3000, 5000, 5000, 5000, vtime.Never, vtime.Never}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// TestSignature: one bit for each different text, entries included; asking
// changes nothing.
func TestSignature(t *testing.T) {
	a, b, c := letter('a'), letter('b'), letter('c')
	tr, err := New(
		[]plan.Expect{{That: *a, Form: plan.Always, After: b}, {That: *b, Form: plan.AtEnd}},
		[]plan.Entry{{When: c}, {At: 5}},
	)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(tr.conds.list); n != 3 {
		t.Errorf("%d conditions, want 3", n)
	}
	s := script{"", "a", "b", "c", "abc"}
	seen := map[Signature]bool{}
	for i := range s {
		seen[tr.Signature(s.site(i))] = true
	}
	if len(seen) != len(s) {
		t.Errorf("%d signatures of %d sites", len(seen), len(s))
	}
	if v := tr.Finish(s.site(0)); v[0].State != NotReached {
		t.Errorf("asking for signatures opened a window: %v", v[0])
	}
}

func TestTooManyConditions(t *testing.T) {
	var expects []plan.Expect
	for i := range MaxConditions {
		expects = append(expects, plan.Expect{That: plan.Cond{Text: fmt.Sprint(i), Eval: func(*snap.Site) bool { return false }}})
	}
	tr, err := New(expects, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := tr.Watch(&plan.Entry{When: letter('a')}); err == nil {
		t.Error("one condition too many was taken")
	}
	if _, err := New(append(expects, plan.Expect{That: *letter('a')}), nil); err == nil {
		t.Error("one condition too many was taken")
	}
}

// TestVerdictText checks the whole of a verdict, with the values that a missed
// claim saw.
func TestVerdictText(t *testing.T) {
	c := NewCompiler(testNames)
	compile := func(text string) plan.Cond {
		cond, err := c.Compile(text)
		if err != nil {
			t.Fatal(err)
		}
		return cond
	}
	after := compile("ups.on_battery")
	tr, err := New([]plan.Expect{{Name: "charge", Form: plan.Always, That: compile("battery.charge_pct > 90"), After: &after}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	want := []Verdict{{
		Name: "charge", Form: "always battery.charge_pct > 90 after ups.on_battery", State: Missed, At: 100_000,
		Because: "it did not hold at 0:01:40.000: battery.charge_pct = 71.125",
	}}
	if diff := cmp.Diff(want, tr.Finish(testSite())); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func steady(tb testing.TB) (*Tracker, *snap.Site) {
	c := NewCompiler(testNames)
	var expects []plan.Expect
	for i, text := range []string{
		`hosts_cut < 99`, `battery.charge_pct > 10`, `ups.source in ["battery", "normal"]`, `hosts.db.state != "off" and groups.rack_a.on`,
		`hosts.web_1.ended == "clean"`, `alarms.fan_failure`, `ups.runtime_min > 900`, `t_s > 1e6`,
	} {
		cond, err := c.Compile(text)
		if err != nil {
			tb.Fatal(err)
		}
		forms := []plan.ExpectForm{plan.Always, plan.By}
		expects = append(expects, plan.Expect{Form: forms[i/4], That: cond, Time: vtime.Hour})
	}
	tr, err := New(expects, nil)
	if err != nil {
		tb.Fatal(err)
	}
	return tr, testSite()
}

func TestObserveAllocatesNothing(t *testing.T) {
	tr, site := steady(t)
	if n := testing.AllocsPerRun(100, func() {
		tr.Observe(site)
		_ = tr.Signature(site)
		_ = tr.Next(site.Tick)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func BenchmarkObserve8(b *testing.B) {
	tr, site := steady(b)
	b.ReportAllocs()
	for b.Loop() {
		tr.Observe(site)
	}
}
