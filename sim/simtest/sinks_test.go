package simtest_test

import (
	"net/smtp"
	"testing"
	"time"

	"ridethrough/sim/simtest"
)

const pager = `
title = "A desk that gets mail"
run_for = "10m"
[[server]]
name = "relay"
kind = "mail"
address = "198.51.100.25"
tls = "none"
sink = true
match = [{ name = "page", subject = "on battery" }]
[[expect]]
name = "one page"
that = "sinks.relay.matched.page == 1"
at = "end"
`

// TestSink: what the software under test mails has arrived when its sender is told so,
// also while time stands.
func TestSink(t *testing.T) {
	s := simtest.Start(t, simtest.Text(pager))
	for _, subject := range []string{"the UPS is on battery", "lunch"} {
		if err := smtp.SendMail(s.Sinks["relay"], nil, "app@site.example", []string{"desk@site.example"}, []byte("Subject: "+subject+"\r\n\r\n")); err != nil {
			t.Fatal(err)
		}
	}
	if !s.Holds("sinks.relay.count == 2 and sinks.relay.matched.page == 1 and t_s == 0") {
		t.Error(s.Observations())
	}
	s.Inject(`server = { name = "relay", answer = "refuse" }`)
	if err := smtp.SendMail(s.Sinks["relay"], nil, "app@site.example", []string{"desk@site.example"}, []byte("Subject: x\r\n\r\n")); err == nil {
		t.Error("a relay that refuses has taken a mail")
	}
	if !s.Holds("sinks.relay.count == 2 and sinks.relay.refused == 1") {
		t.Error(s.Observations())
	}
	s.Advance(10 * time.Minute)
}
