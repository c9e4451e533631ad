package card

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestOneAdministrator: a second one is refused over the network, with the name of the
// first; at the serial line the second takes over. Others come and go, and as the card
// comes nobody is in anybody's way.
func TestOneAdministrator(t *testing.T) {
	c := newBench(snap.AddressFixed).card
	c.inForce = c.inForce.Clone()
	own := c.inForce.SignIn
	try := func(at vtime.Tick, user, surface string) snap.Result {
		by := signIn(user, surface, true)
		by.Text, by.By.Role = "radius", snap.Administrator
		if user == "cora" {
			by.By.Role = snap.Viewer
		}
		return c.SignIn(at, by)
	}
	first := try(0, "anna", "ssh")
	if r := try(0, "bert", "ssh"); r.Status != snap.Done {
		t.Fatalf("not set: %+v", r)
	}
	c.SignOut(0, snap.Actor{User: "bert", Session: 2}, "")
	own.OneAdministrator = true
	r := try(vtime.Minute, "bert", "ssh")
	if r.Status != snap.Denied || r.Reason != "anna has been signed in over ssh from 192.0.2.7:4000 for 60 s, and one administrator may be at a time" || c.WhyRefused() != snap.SignInFull {
		t.Errorf("%+v, %s", r, c.WhyRefused())
	}
	if r := try(vtime.Minute, "cora", "ssh"); r.Status != snap.Done {
		t.Errorf("a viewer: %+v", r)
	}
	if r := try(2*vtime.Minute, "dirk", "serial"); r.Status != snap.Done || c.session(first.Session) != nil {
		t.Errorf("at the serial line: %+v, %+v", r, c.session(first.Session))
	}
	if text := journalOf(c); !strings.Contains(text, "sign-out anna (ssh from 192.0.2.7:4000), the serial line took over") {
		t.Error(text)
	}
	if r := try(3*vtime.Minute, "anna", "ssh"); r.Status != snap.Denied || !strings.HasPrefix(r.Reason, "dirk has been signed in at the serial line for 60 s") {
		t.Errorf("%+v", r)
	}
	if r := try(3*vtime.Minute, "anna", "serial"); r.Status != snap.Done {
		t.Errorf("one plug: %+v", r)
	}
}
