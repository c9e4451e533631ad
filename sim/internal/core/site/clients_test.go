package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/vtime"
)

// TestClients: the modelled software is a client like others. Rows of what is set on the
// card at a minute and how the policy speaks with it; the mains go at 2:05, so that it
// stops at 3:10 if it was answered.
func TestClients(t *testing.T) {
	const stops = 3*min + 10*sec
	list := func(network string) string {
		return `"access.allow.x.service" = "snmp", "access.allow.x.network" = "` + network + `"`
	}
	for name, row := range map[string]struct {
		client, settings string
		want             vtime.Tick
		journal          string
	}{
		"as it comes":          {"", `"identity.location" = "hall"`, stops, ""},
		"version off":          {"", `"access.snmp-v2c" = "no"`, vtime.Never, ""},
		"v1":                   {`version = "v1"`, `"access.snmp-v2c" = "no"`, stops, ""},
		"v1 off":               {`version = "v1"`, `"access.snmp-v1" = "no"`, vtime.Never, ""},
		"v3":                   {`version = "v3"`, `"access.snmp-v1" = "no", "access.snmp-v2c" = "no"`, stops, ""},
		"v3 off":               {`version = "v3"`, `"access.snmp-v3" = "no"`, vtime.Never, ""},
		"wrong community":      {`read_community = "other"`, `"identity.location" = "hall"`, vtime.Never, "wrong community from 192.0.2.254"},
		"may not read":         {`read_community = ""`, `"identity.location" = "hall"`, vtime.Never, "wrong community from 192.0.2.254"},
		"wrong one to write":   {`write_community = "other"`, `"identity.location" = "hall"`, stops, "wrong community from 192.0.2.254"},
		"on the list":          {"", list("192.0.2.0/24"), stops, ""},
		"not on the list":      {"", list("198.51.100.0/24"), vtime.Never, "turns away snmp from 192.0.2.254"},
		"list of IPv6":         {"", list("2001:db8::/32"), vtime.Never, "turns away snmp from 192.0.2.254"},
		"another one's list":   {"", strings.Replace(list("198.51.100.0/24"), `"snmp"`, `"ssh"`, 1), stops, ""},
		"community of the v3":  {"version = \"v3\"\nread_community = \"other\"", `"identity.location" = "hall"`, stops, ""},
		"the list comes first": {`read_community = "other"`, list("198.51.100.0/24"), vtime.Never, "turns away snmp from 192.0.2.254"},
	} {
		t.Run(name, func(t *testing.T) {
			r := playtest.Start(t, managed+"on_battery_for = \"60s\"\n"+row.client+"\n").To(min)
			r.Inject("settings = { " + row.settings + " }").To(2*min + 5*sec).Inject(lost).To(12 * min)
			if got := reached(r, "stopping"); got != row.want {
				t.Errorf("stopping at %v, want %v\n%s", got, row.want, r.Trace())
			}
			for _, text := range []string{"wrong community from 192.0.2.254", "turns away snmp from 192.0.2.254"} {
				if got := strings.Contains(after(r.Trace()), text+"\n"); got != (text == row.journal) {
					t.Errorf("%q: %v\n%s", text, got, r.Trace())
				}
			}
			if off := strings.Contains(r.Trace(), "orders the output off"); off != (row.want == stops && name != "wrong one to write") {
				t.Errorf("orders the output off: %v", off)
			}
		})
	}
}

// after is the part of a trace from when the settings were saved on.
func after(trace string) string { return trace[strings.Index(trace, "settings saved"):] }
