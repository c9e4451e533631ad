package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/vtime"
)

const darkCollector = `
title = "dark collector"
seed = 1
run_for = "1h"
[card.alerts]
syslog = [{ name = "log", server = "198.51.100.30", transport = "TRANSPORT" }]
[[group]]
name = "held"
[[group]]
name = "past"
fed_by = "mains"
[[host]]
name = "files"
group = "held"
draw_w = 500
[[server]]
name = "collector"
kind = "syslog"
address = "198.51.100.30"
needs_groups = ["past"]
[[at]]
time = "10m"
source = "lost"
[[at]]
time = "10m1s"
ups_link = "lost"
[[at]]
time = "10m2s"
ups_link = "up"
[[at]]
time = "10m10s"
source = "normal"
`

// TestDatagramsAreNotKept: what leaves over UDP while nobody is there is lost, at once;
// nothing of it waits behind the rest and arrives when the collector is back. Over TCP
// it does.
func TestDatagramsAreNotKept(t *testing.T) {
	play := func(transport string) (r *playtest.Run) {
		return playtest.Start(t, strings.Replace(darkCollector, "TRANSPORT", transport, 1))
	}
	udp := play("udp").To(10*vtime.Minute + 9*vtime.Second)
	n := udp.Site.Posts.Syslog
	if n.Lost < 3 || n.Waiting != 0 || n.Lost != n.Made-n.Delivered {
		t.Errorf("in the dark: %+v\n%s", n, udp.Trace())
	}
	for _, line := range udp.Site.Card.Posts.Done {
		if line.Event.String() == "on_battery" && (line.State != "sent" || line.Text != "") {
			t.Errorf("the card cannot know: %+v", line)
		}
	}
	lost := n.Lost
	if n = udp.To(30 * vtime.Minute).Site.Posts.Syslog; n.Lost != lost || n.Delivered == 0 {
		t.Errorf("afterwards: %+v", n)
	}
	if n = play("tcp").To(30 * vtime.Minute).Site.Posts.Syslog; n.Lost != 0 || n.Delivered != n.Made {
		t.Errorf("over TCP: %+v", n)
	}
}

// TestDatagramsAreNotAnswered: a collector that is unwilling says nothing to a datagram,
// so that the card counts it as sent; over TCP all that it can do is to hang up. Neither
// speaks as a mail relay does.
func TestDatagramsAreNotAnswered(t *testing.T) {
	for _, answer := range []string{"defer", "refuse", "hangs-up", "closed", "silent"} {
		for _, transport := range []string{"udp", "tcp"} {
			text := strings.Replace(darkCollector, "TRANSPORT", transport, 1)
			text = strings.Replace(text, "needs_groups", "answer = \""+answer+"\"\nneeds_groups", 1)
			r := playtest.Start(t, text).To(10*vtime.Minute + 9*vtime.Second)
			done, n := r.Site.Card.Posts.Done, r.Site.Posts.Syslog
			if n.Delivered != 0 || transport == "udp" && (len(done) == 0 || n.Waiting != 0) {
				t.Errorf("%s over %s: %+v", answer, transport, n)
			}
			for _, line := range done {
				if transport == "udp" && (line.State != "sent" || line.Text != "") {
					t.Errorf("%s over UDP: the card cannot know: %+v", answer, line)
				}
			}
			for _, code := range []string{"451 ", "554 "} {
				if strings.Contains(r.Trace(), code) {
					t.Errorf("%s over %s: a collector speaks SMTP:\n%s", answer, transport, r.Trace())
				}
			}
		}
	}
}
