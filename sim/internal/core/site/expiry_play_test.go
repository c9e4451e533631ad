package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const directory = `
title = "directory"
seed = 1
start = 2026-03-02T08:00:00+01:00
run_for = "60h"
[card]
must_change_password = false
[card.sign_in]
order = "ldap"
[[card.ldap]]
name = "tree"
at = "198.51.100.31:389"
fingerprint = "0000000000000000000000000000000000000000000000000000000000000000"
base = "dc=site,dc=example"
[[login_server]]
name = "tree"
at = "198.51.100.31:389"
certificate_days = 10
[[login_server.user]]
name = "anna"
role = "administrator"
[[at]]
time = "1h"
sign_in = { user = "anna" }
`

// TestDirectoryShowsItsCertificate: the card learns of it with the first sign-in, warns
// once a day, and goes by what a real one shows likewise.
func TestDirectoryShowsItsCertificate(t *testing.T) {
	r := playtest.Start(t, directory).To(vtime.Hour - 1)
	if r.Site.Warned != 0 || len(r.Site.Card.Terms) != 0 {
		t.Error("known before anybody signed in")
	}
	if r.To(50 * vtime.Hour); r.Site.Warned != 3 || r.Count("the LDAP server tree (198.51.100.31:389) ends 2026-03-12") != 3 {
		t.Errorf("%d warnings\n%s", r.Site.Warned, r.Trace())
	}
	renewed := snap.StampOf(r.Plan.Start.AddDate(1, 0, 0))
	if s := r.Do(snap.Command{Op: snap.OpShown, Text: "ldap tree", At: renewed}); s.Status != snap.Done {
		t.Error(s)
	}
	if s := r.Do(snap.Command{Op: snap.OpShown, Text: "ldap bush", At: renewed}); s.Status != snap.WrongValue || !strings.Contains(s.Reason, "ldap bush") {
		t.Error(s)
	}
	if r.To(59 * vtime.Hour); r.Site.Warned != 3 {
		t.Error("warned of a certificate that was renewed")
	}
}
