package site_test

import (
	"testing"

	"ridethrough/sim/internal/core/playtest"
)

const monitored = head + `
receivers = [{ to = "198.51.100.20:162" }]
[[host]]
name = "db"
draw_w = 300
[monitor]
poll_every = "10s"
`

// TestMonitorTellsSilenceFromMains: three polls without an answer are an alert, which goes with the
// first answer; one or two are none.
func TestMonitorTellsSilenceFromMains(t *testing.T) {
	r := playtest.Start(t, monitored+`
[[at]]
time = "1m"
quirk = { name = "hung" }
[[at]]
time = "1m15s"
quirk = { name = "hung", off = true }
[[at]]
time = "2m"
quirk = { name = "hung" }
[[at]]
time = "4m"
quirk = { name = "hung", off = true }
`).To(5 * min)
	if got, want := when(r, "monitor: the card does not answer"), 2*min+20*sec; got != want {
		t.Errorf("alert at %v, want %v", got, want)
	}
	if got, want := when(r, "monitor: the card answers"), 4*min; got != want {
		t.Errorf("closed at %v, want %v", got, want)
	}
}

// TestMonitorHearsBeforeItPolls: a notification tells at once; without a receiver the next poll does.
func TestMonitorHearsBeforeItPolls(t *testing.T) {
	loss := `
[[at]]
time = "65s"
source = "lost"
`
	if got := when(playtest.Start(t, monitored+loss).To(2*min), "monitor: the load runs on battery"); got != 65*sec {
		t.Errorf("heard at %v", got)
	}
	deaf := head + `
[[host]]
name = "db"
draw_w = 300
[monitor]
poll_every = "10s"
` + loss
	if got := when(playtest.Start(t, deaf).To(2*min), "monitor: the load runs on battery"); got != 70*sec {
		t.Errorf("polled at %v", got)
	}
}

// TestMonitorIgnoresTests: battery operation in a test is no alert by a poll.
func TestMonitorIgnoresTests(t *testing.T) {
	r := playtest.Start(t, head+`
[[host]]
name = "db"
draw_w = 300
[monitor]
poll_every = "1s"
[[at]]
time = "1m"
test = "quick-battery"
`).To(5 * min)
	if m := r.Site.Monitor; m.Alerts != 0 || m.Answered == 0 {
		t.Errorf("%+v", m)
	}
}
