package engine_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/trace"
)

// Three engines of one plan that share a scratch, stepped by turns, each come to
// the very trace of one that is alone: whatever a step needs of its own is not
// in the scratch.
func TestSharedScratchChangesNothing(t *testing.T) {
	for name, p := range shipped(t) {
		if p.Units != nil {
			continue // sites that share a scratch have one unit
		}
		t.Run(name, func(t *testing.T) {
			if p.RunFor > 2*60*min {
				p.RunFor = 2 * 60 * min
			}
			want, _ := play(t, p)
			var sc engine.Scratch
			model, _ := newEngine(t, p)
			var engines [3]*engine.Engine
			var out [3]strings.Builder
			var traces [3]*trace.Writer
			for i := range engines {
				traces[i] = trace.New(&out[i], p)
				e, first, err := model.Like(p.Self(), &sc)
				if err != nil {
					t.Fatal(err)
				}
				engines[i] = e
				traces[i].Frame(first.Events, first.Site)
			}
			for engines[2].Now() < p.RunFor {
				for i, e := range engines {
					e.Use(&sc)
					if next := e.Upcoming(); next <= e.Now() {
						t.Fatalf("no step at %v", e.Now())
					}
					f := e.Step(p.RunFor)
					traces[i].Frame(f.Events, f.Site)
					if e.Ended() {
						traces[i].End(f.Site)
					}
				}
			}
			for i := range out {
				if got := out[i].String(); got != want {
					t.Fatalf("engine %d differs from one that is alone:\n%s", i, firstDifference(got, want))
				}
			}
		})
	}
}

func firstDifference(got, want string) string {
	a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range a {
		if i >= len(b) || a[i] != b[i] {
			return "got  " + a[i] + "\nwant " + strings.Join(append(b, "no more")[i:i+1], "")
		}
	}
	return "it ends early"
}
