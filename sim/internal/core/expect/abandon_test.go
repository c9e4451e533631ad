package expect

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

// A run that is stopped from outside: what only its rest could have decided is
// not reached, what was already broken stays missed, what held so far is met.
func TestAbandon(t *testing.T) {
	run := script{"a", "ab", "a"}
	a, b, c := *letter('a'), *letter('b'), *letter('c')
	expects := []plan.Expect{
		{Name: "at the end", Form: plan.AtEnd, That: a},
		{Name: "once, not yet", Form: plan.Once, That: c},
		{Name: "once, already", Form: plan.Once, That: b},
		{Name: "always so far", Form: plan.Always, That: a},
		{Name: "never, broken", Form: plan.NeverHolds, That: b},
		{Name: "by a later time", Form: plan.By, That: c, Time: vtime.Minute},
	}
	tr, err := New(expects, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := range run {
		tr.Observe(run.site(i))
	}
	got := map[string]string{}
	for _, v := range tr.Abandon(run.site(2)) {
		got[v.Name] = v.State.String()
	}
	want := map[string]string{
		"at the end": "not-reached", "once, not yet": "not-reached", "once, already": "met",
		"always so far": "met", "never, broken": "missed", "by a later time": "not-reached",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}
