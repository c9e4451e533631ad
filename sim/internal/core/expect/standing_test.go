package expect

import (
	"fmt"
	"testing"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

// What an open claim waits for is said, and asking decides nothing.
func TestStanding(t *testing.T) {
	a, b := letter('a'), letter('b')
	for _, c := range []struct {
		e      plan.Expect
		script script
		want   string
	}{
		{plan.Expect{Form: plan.Always}, script{"a", "a"}, "open 0s: it has held since 0:00:00.000"},
		{plan.Expect{Form: plan.Always}, script{"a", ""}, "missed 1s: it did not hold at 0:00:01.000"},
		{plan.Expect{Form: plan.Always, After: b}, script{"a", "a"}, "open 0s: its window has not opened: b was not true yet"},
		{plan.Expect{Form: plan.NeverHolds}, script{"", ""}, "open 0s: it has not held since 0:00:00.000"},
		{plan.Expect{Form: plan.Once}, script{"", ""}, "open 0s: it has not become true since 0:00:00.000"},
		{plan.Expect{Form: plan.Once}, script{"", "a"}, "open 0s: it became true at 0:00:01.000, and has not again"},
		{plan.Expect{Form: plan.At, Time: 5000}, script{"a"}, "open 0s: it is judged at 0:00:05.000"},
		{plan.Expect{Form: plan.By, Time: 5000}, script{""}, "open 0s: it has time until 0:00:05.000"},
		{plan.Expect{Form: plan.By, Time: 5000}, script{"", "a"}, "met 1s: it held at 0:00:01.000"},
		{plan.Expect{Form: plan.Within, After: b, Time: 5000}, script{"", "b"}, "open 0s: it has time until 0:00:06.000"},
		{plan.Expect{Form: plan.Within, After: b, Until: b, Time: 5000}, script{"", "b"}, "open 0s: its window has closed"},
		{plan.Expect{Form: plan.AtEnd}, script{"a"}, "open 0s: it is judged at the end; it holds now"},
		{plan.Expect{Form: plan.AtEnd}, script{"a", ""}, "open 0s: it is judged at the end; it does not hold now"},
	} {
		c.e.That = *a
		tr, err := New([]plan.Expect{c.e}, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i := range c.script {
			tr.Observe(c.script.site(i))
		}
		last := c.script.site(len(c.script) - 1)
		for range 2 {
			v := tr.Standing(last)[0]
			if got := fmt.Sprintf("%v %vs: %s", v.State, v.At.Seconds(), v.Because); got != c.want {
				t.Errorf("%s, %q: %s\nwant %s", v.Form, c.script, got, c.want)
			}
		}
	}
}

// The bench's conditions come and go; those of the scenario stay.
func TestAsk(t *testing.T) {
	a, b, c := letter('a'), letter('b'), letter('c')
	tr, err := New([]plan.Expect{{Form: plan.Always, That: *a}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, cond := range []*plan.Cond{a, b, b} {
		if err := tr.Ask(cond); err != nil {
			t.Fatal(err)
		}
	}
	if asked, slot := tr.Asked("b"); asked == nil || slot != 1 {
		t.Fatalf("b: %v in slot %d", asked, slot)
	}
	for i, want := range []bool{true, true, false} {
		if got := tr.Forget("b"); got != want {
			t.Errorf("b forgotten %d times: %v", i, got)
		}
	}
	if asked, _ := tr.Asked("b"); asked != nil {
		t.Error("b is watched on")
	}
	if !tr.Forget("a") || tr.Forget("a") {
		t.Error("a was asked for once")
	}
	if asked, slot := tr.Asked("a"); asked == nil || slot != 0 {
		t.Error("a, which is the scenario's, was forgotten")
	}
	if err := tr.Ask(c); err != nil {
		t.Fatal(err)
	}
	if _, slot := tr.Asked("c"); slot != 1 || len(tr.conds.list) != 2 {
		t.Errorf("c in slot %d of %d: expected the free one", slot, len(tr.conds.list))
	}
	s := script{"c"}
	if sig := tr.Signature(s.site(0)); !sig.Has(1) || sig.Has(0) {
		t.Errorf("signature %v", sig)
	}
}

func TestAskIsBounded(t *testing.T) {
	tr, err := New(nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := range MaxAsked + 1 {
		err = tr.Ask(&plan.Cond{Text: fmt.Sprint(i), Eval: letter('a').Eval})
		if (err != nil) != (i == MaxAsked) {
			t.Errorf("condition %d: %v", i, err)
		}
	}
	if tr.Next(0) != vtime.Never {
		t.Error("what is asked needs no moment of its own")
	}
}
