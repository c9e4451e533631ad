package sim_test

import (
	"strings"
	"testing"

	"golang.org/x/crypto/ssh"

	"ridethrough/sim"
)

const shutOutSite = `title = "A card whose access list is changed from afar"
seed = 42
run_for = "24h"
[card]
address = "192.0.2.10/24"
gateway = "192.0.2.1"
must_change_password = false
[[card.account]]
user = "duty"
password = "an old phrase of mine"
`

// TestLastWordsOfAShutOut: who shuts himself out over SSH, and has said that this is meant,
// hears that it was saved before the card falls silent to him: on the same connection
// nothing is taken any more, and there is no other one.
func TestLastWordsOfAShutOut(t *testing.T) {
	card := serveText(t, shutOutSite, sim.ServeOptions{})
	client := card.as("duty", ssh.Password("an old phrase of mine"))
	defer client.Close()
	rule := "add access.allow office service=ssh network=198.51.100.0/24"
	if text, status := line(t, client, rule); status != 2 || !strings.Contains(text, "you will be shut out") {
		t.Fatalf("%d, %q", status, text)
	}
	if text, status := line(t, client, rule+" --confirm"); status != 0 || !strings.HasPrefix(text, "Saved.") {
		t.Errorf("%d, %q", status, text)
	}
	if session, err := client.NewSession(); err == nil {
		if out, err := session.Output("status"); err == nil {
			t.Errorf("the connection goes on: %q", out)
		}
	}
	if greetsAt(t, card.ready.Endpoints.SSH, "127.0.0.1") {
		t.Error("a new connection is let in")
	}
	card.end()
}
