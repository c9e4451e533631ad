package site_test

import (
	"testing"

	"ridethrough/sim/internal/core/playtest"
)

// TestMonitorCounts: rows of what befalls the card and of how the monitor reads that. The
// input fails twice before a restart at 0:20 and once after it.
func TestMonitorCounts(t *testing.T) {
	dips := `
[[at]]
time = "5m"
source = { sag_pct = 40, lasts = "2s", count = 2, every = "1m" }
[[at]]
time = "20m"
card = "restart"
[[at]]
time = "40m"
source = { sag_pct = 40, lasts = "2s" }
`
	const spike = 1<<32 - 2 + 3 // to the wrap, and what was there before and has come since
	for name, row := range map[string]struct {
		believe, quirk string
		restarts       uint32
		failures       int64
	}{
		"as it is":            {"", "", 1, 3},
		"forgets":             {"", "counters-not-kept", 1, 3},
		"forgets, a wrap":     {`counters = "wrap"`, "counters-not-kept", 1, spike},
		"keeps, a wrap":       {`counters = "wrap"`, "", 1, 3},
		"time wraps":          {"", "uptime-near-wrap", 1, 3},
		"time wraps, falls":   {`uptime = "falls"`, "uptime-near-wrap", 2, 3},
		"steps back, reckons": {"", "uptime-steps-back", 1, 3},
		"boots not kept":      {"", "boots-not-kept", 1, 3},
	} {
		t.Run(name, func(t *testing.T) {
			src := monitored + "believe = { " + row.believe + " }\n" + dips
			if row.quirk != "" {
				src += "[[card.quirk]]\nname = \"" + row.quirk + "\"\n"
			}
			r := playtest.Start(t, src).To(60 * min)
			if m := r.Site.Monitor; m.Restarts != row.restarts || m.LineFailures != row.failures {
				t.Errorf("%d restarts, %d failures; want %d, %d\n%s", m.Restarts, m.LineFailures, row.restarts, row.failures, r.Trace())
			}
		})
	}
	r := playtest.Start(t, monitored+"believe = { uptime = \"falls\" }\n"+dips+"[[card.quirk]]\nname = \"uptime-steps-back\"\n").To(60 * min)
	if m := r.Site.Monitor; m.Restarts < 10 {
		t.Errorf("%d restarts of a time that steps back", m.Restarts)
	}
}
