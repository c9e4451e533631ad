package scenario

import (
	"fmt"
	"net/netip"
	"os"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"ridethrough/sim/internal/core/plan"
	settings "ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const secured = `
title = "secured"
run_for = "1h"
[card]
read_community = "look"
versions = ["v2c", "v3"]
read_view = "status"
write_view = "none"
engine_time = "real"
report_garbled = true
receivers = [
  { to = "198.51.100.20:162" },
  { to = "198.51.100.21:162", version = "v3", user = "alerts", inform = true, retries = 5, timeout = "500ms" },
  { to = "198.51.100.22:162", version = "v3", user = "alerts", level = "authPriv" },
]
[[card.view]]
name = "status"
include = ["1.3.6.1.2.1.1", "1.3.6.1.2.1.33"]
exclude = ["1.3.6.1.2.1.33.1.8"]
[[card.snmp_user]]
name = "alerts"
auth = "sha-256"
auth_password = "first phrase"
priv = "aes-256-reeder"
priv_password = 'second phrase'
level = "authNoPriv"
read = "none"
[[card.snmp_user]]
name = "watch"
write = "status"
[[variant]]
name = "other"
why = "another password"
set = { "card.snmp_user.alerts.auth_password" = "third phrase", "card.snmp_user.watch.name" = "guard" }
`

// everyAccess is what everything.toml says of SNMP.
func everyAccess() *snap.Access {
	unit := &snap.View{Name: "unit", Subtrees: []snap.Subtree{
		{OID: []uint32{1, 3, 6, 1, 2, 1, 33}, Included: true}, {OID: []uint32{1, 3, 6, 1, 2, 1, 33, 1, 8}}}}
	return &snap.Access{
		V1: true, V2c: true, V3: true, RealEngineTime: true, ReportGarbled: true,
		Reader: snap.Views{Read: unit, Notify: snap.Everything()}, Writer: snap.Views{Read: unit},
		Users: []snap.User{{
			Name: "alerts", Auth: snap.AuthSHA256, Priv: snap.PrivAES128, Level: snap.AuthNoPriv,
			AuthPassword: snap.NewSecret("not a secret"), PrivPassword: snap.NewSecret("no secret either"),
			Views: snap.Views{Read: unit, Notify: snap.Everything()},
		}},
	}
}

func TestAccess(t *testing.T) {
	p, err := Load("f", []byte(secured), Options{})
	if err != nil {
		t.Fatal(err)
	}
	status := &snap.View{Name: "status", Subtrees: []snap.Subtree{
		{OID: []uint32{1, 3, 6, 1, 2, 1, 1}, Included: true}, {OID: []uint32{1, 3, 6, 1, 2, 1, 33}, Included: true},
		{OID: []uint32{1, 3, 6, 1, 2, 1, 33, 1, 8}}}}
	all := snap.Everything()
	want := &snap.Access{
		V2c: true, V3: true, RealEngineTime: true, ReportGarbled: true,
		Reader: snap.Views{Read: status, Notify: all}, Writer: snap.Views{Read: status},
		Users: []snap.User{
			{Name: "alerts", Auth: snap.AuthSHA256, Priv: snap.PrivAES256Reeder, AuthPassword: snap.NewSecret("first phrase"),
				PrivPassword: snap.NewSecret("second phrase"), Level: snap.AuthNoPriv, Views: snap.Views{Notify: all}},
			{Name: "watch", Views: snap.Views{Read: all, Write: status, Notify: all}},
		},
	}
	reveal := cmp.Comparer(func(a, b snap.Secret) bool { return a.Reveal() == b.Reveal() })
	if diff := cmp.Diff(want, p.Card.Access, reveal); diff != "" {
		t.Error(diff)
	}
	to := netip.MustParseAddrPort
	receivers := []plan.Receiver{
		{To: to("198.51.100.20:162"), Version: "v2c", Community: "look", Retries: 3, Timeout: 2 * vtime.Second},
		{To: to("198.51.100.21:162"), Version: "v3", User: "alerts", Level: snap.AuthNoPriv, Inform: true, Retries: 5, Timeout: 500},
		{To: to("198.51.100.22:162"), Version: "v3", User: "alerts", Level: snap.AuthPriv, Retries: 3, Timeout: 2 * vtime.Second},
	}
	if diff := cmp.Diff(receivers, p.Card.Receivers, cmp.Comparer(func(a, b netip.AddrPort) bool { return a == b })); diff != "" {
		t.Error(diff)
	}
}

// TestAccessRefused changes one line of the file and says what is then wrong.
func TestAccessRefused(t *testing.T) {
	for _, tt := range []struct{ old, new, want string }{
		{`["v2c", "v3"]`, `["v4"]`, `no SNMP version "v4"`},
		{`["v2c", "v3"]`, `["v3"]`, `the card does not speak v2c`},
		{`read_view = "status"`, `read_view = "statsu"`, `there is no view "statsu"; expected one of all, none, status; did you mean "status"?`},
		{`name = "status"`, `name = "all"`, `there is another view "all"`},
		{`"1.3.6.1.2.1.33.1.8"`, `"1.3.x"`, `"1.3.x" is not an object identifier`},
		{`name = "watch"`, `name = "alerts"`, `there is another user "alerts"`},
		{`level = "authNoPriv"`, "level = \"authPriv\"\n", ""},
		{"name = \"watch\"\n", "name = \"watch\"\nlevel = \"authNoPriv\"\n", `user "watch" has no keys for authNoPriv; expected at most noAuthNoPriv`},
		{`auth_password = "first phrase"`, ``, `auth and auth_password do not fit`},
		{`priv_password = 'second phrase'`, ``, `priv and priv_password do not fit`},
		{"name = \"watch\"\n", "name = \"watch\"\npriv = \"des\"\npriv_password = \"12345678\"\n", `no privacy without authentication`},
		{`user = "alerts", inform`, `inform`, `the receiver has no user`},
		{`user = "alerts", inform`, `user = "alert", inform`, `there is no snmp_user "alert"; expected one of alerts, watch; did you mean "alerts"?`},
		{`user = "alerts", inform`, `user = "alerts", community = "x", inform`, `a community with version v3`},
		{`"198.51.100.20:162"`, `"198.51.100.20:162", user = "alerts"`, `a user or level without version v3`},
		{`versions = ["v2c", "v3"]`, "", ""},
		{`["v2c", "v3"]`, `["v1", "v2c", "v3"]`, ""},
		{`{ to = "198.51.100.20:162" }`, `{ to = "198.51.100.20:162", version = "v1", inform = true }`, `the card does not speak v1`},
	} {
		if !strings.Contains(secured, tt.old) {
			t.Fatalf("%s is not in the file", tt.old)
		}
		_, err := Load("f", []byte(strings.Replace(secured, tt.old, tt.new, 1)), Options{})
		if tt.want == "" && err == nil {
			continue
		}
		if tt.want == "" || err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s for %s: got %v, want %s", tt.new, tt.old, err, tt.want)
		}
	}
	v1 := strings.NewReplacer(`["v2c", "v3"]`, `["v1", "v3"]`, `"198.51.100.20:162"`, `"198.51.100.20:162", version = "v1", inform = true`).Replace(secured)
	if _, err := Load("f", []byte(v1), Options{}); err == nil || !strings.Contains(err.Error(), "SNMPv1 has no informs") {
		t.Errorf("got %v", err)
	}
}

// TestPasswordsDoNotShow: neither a message about a password nor a redacted file
// has it.
func TestPasswordsDoNotShow(t *testing.T) {
	for _, bad := range []string{`"short77"`, `"` + strings.Repeat("geheim77", 9) + `"`, `"geheim77é"`, `77123456`, `["geheim77x"]`} {
		text := strings.Replace(secured, `"first phrase"`, bad, 1)
		_, err := Load("f", []byte(text), Options{})
		if err == nil || strings.Contains(err.Error(), "77") {
			t.Errorf("%s: %v", bad, err)
		}
	}
	names := map[string]string{}
	hide := func(secret string) string {
		if names[secret] == "" {
			names[secret] = fmt.Sprintf("(hidden %d)", len(names))
		}
		return names[secret]
	}
	got := string(Redact([]byte(secured), hide))
	if strings.Contains(got, "phrase") || strings.Contains(got, `"look"`) || strings.Count(got, "(hidden ") != 4 || names["look"] == "" {
		t.Errorf("redacted:\n%s", got)
	}
	for _, variant := range []string{"", "other"} {
		p, err := Load("f", []byte(got), Options{Variant: variant})
		if err != nil {
			t.Fatalf("a redacted file cannot be read: %v", err)
		}
		q, err := Load("f", []byte(secured), Options{Variant: variant})
		if err != nil {
			t.Fatal(err)
		}
		p.Card.Access, q.Card.Access = nil, nil
		p.Card.Settings.Managers, q.Card.Settings.Managers = nil, nil
		veil(q, hide)
		for i := range q.Card.Settings.Alerts.Receivers {
			r := &q.Card.Settings.Alerts.Receivers[i]
			r.Community = snap.NewSecret(q.Card.Receivers[i].Community)
		}
		if !reflect.DeepEqual(p.Card, q.Card) {
			t.Errorf("redacting changed more than passwords")
		}
	}
	plain := "title = \"x\"\nrun_for = \"1h\"\n"
	if got := string(Redact([]byte(plain), hide)); got != plain {
		t.Errorf("redacted %q", got)
	}
	if got := Redact([]byte("x = ["), hide); len(got) != 0 {
		t.Errorf("redacted %q", got)
	}
}

// veil hides the communities of a plan.
func veil(p *plan.Plan, hide func(string) string) {
	s := &p.Card.Settings
	s.ReadCommunity = snap.NewSecret(hide(s.ReadCommunity.Reveal()))
	if !p.Card.WriteFromSeed {
		s.WriteCommunity = snap.NewSecret(hide(s.WriteCommunity.Reveal()))
	}
	for i := range p.Card.Receivers {
		if c := &p.Card.Receivers[i].Community; *c != "" {
			*c = hide(*c)
		}
	}
}

// TestSettingsOpenTheSame: what a technician finds as settings opens what the
// scenario says.
func TestSettingsOpenTheSame(t *testing.T) {
	everything, err := os.ReadFile("testdata/everything.toml")
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"secured": secured, "everything": string(everything), "plain": "title = \"x\"\nrun_for = \"1h\"\n",
		"no v1": "title = \"x\"\nrun_for = \"1h\"\n[card]\nversions = [\"v2c\"]\nread_view = \"none\"\n",
	} {
		p, err := Load("f", []byte(text), Options{})
		if err != nil {
			t.Fatal(err)
		}
		got := p.Card.Settings.Manager().Access(p.Card.Access)
		if diff := cmp.Diff(p.Card.Access, got, cmpopts.IgnoreFields(snap.View{}, "Name"), cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("%s (-scenario +settings):\n%s", name, diff)
		}
		if err := settings.Check(&snap.Settings{Mode: snap.AddressDHCP, Groups: p.Card.Settings.Groups}, &p.Card.Settings); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestSecretSettingsDoNotShow: a redacted file has no secret of a table of settings
// either, wherever that stands, and what it empties stays empty.
func TestSecretSettingsDoNotShow(t *testing.T) {
	const text = `
title = "x"
run_for = "1h"
[card]
write_community = ""
[card.settings]
"access.radius.a.server" = "192.0.2.30:1812"
"access.radius.a.secret" = "geheim-radius"
[[at]]
time = "1m"
settings = { "access.read-community" = "geheim-look", "access.write-community" = "" }
[policy]
on_battery_for = "1m"
read_community = "geheim-look"
[[host]]
name = "db"
draw_w = 100
[[expect]]
name = "e"
that = "t_s >= 0"
always = true
[[variant]]
name = "v"
why = "w"
misses = []
set = { "at.1.settings" = { "alerts.mail.password" = "geheim-mail" } }
`
	names := map[string]string{}
	hide := func(secret string) string {
		if names[secret] == "" && secret != "" {
			names[secret] = fmt.Sprintf("(hidden %d)", len(names))
		}
		return names[secret]
	}
	got := string(Redact([]byte(text), hide))
	if strings.Contains(got, "geheim") || strings.Count(got, "(hidden ") != 4 || len(names) != 3 {
		t.Errorf("redacted:\n%s", got)
	}
	for _, variant := range []string{"", "v"} {
		if _, err := Load("f", []byte(got), Options{Variant: variant}); err != nil {
			t.Errorf("a redacted file cannot be read: %v", err)
		}
	}
}

// TestSettingsAreOneCards: what one scenario sets for signing in no other card has.
func TestSettingsAreOneCards(t *testing.T) {
	const text = "title = \"x\"\nrun_for = \"1h\"\n[card.settings]\n\"access.idle\" = \"42s\"\n\"access.key.anna.user\" = \"anna\"\n\"access.key.anna.line\" = \"ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAINiFCYWCvmrLDwcTrSvQOHyGbUXNRZPA8c9RBCOSJTHN\"\n"
	p, err := Load("f", []byte(text), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r := p.Card.Settings.SignInRules(); r.Idle != 42*vtime.Second || len(r.Keys) != 1 {
		t.Errorf("set: %+v", r)
	}
	if r := new(snap.Settings).SignInRules(); r.Idle == 42*vtime.Second || len(r.Keys) != 0 {
		t.Errorf("a new card has %+v", r)
	}
}

// TestManagersUser: a manager of SNMPv3 says who it is; what it does not say is as the
// card has it.
func TestManagersUser(t *testing.T) {
	const text = "title='x'\nrun_for='1h'\n[card]\n[[card.snmp_user]]\nname = \"a\"\nauth = \"sha-256\"\nauth_password = \"first phrase\"\n[monitor]\n"
	for _, tt := range []struct{ keys, want string }{
		{`version = "v3"` + "\n" + `as = { user = "a" }`, ""},
		{`version = "v3"` + "\n" + `as = { user = "b", auth_password = "x", priv_password = "y" }`, ""},
		{`as = { user = "a" }`, `a user of SNMPv3 with version v2c; expected version = "v3"`},
		{`version = "v3"` + "\n" + `as = { auth_password = "x" }`, `user`},
		{`version = "v3"` + "\n" + `as = { user = "a", level = "authPriv" }`, `there is no password for authPriv; expected auth_password, for authPriv priv_password too, or at most authNoPriv`},
		{`version = "v3"` + "\n" + `as = { user = "b", level = "authNoPriv" }`, `or at most noAuthNoPriv`},
	} {
		s, err := Load("f", []byte(text+tt.keys+"\n"), Options{})
		switch {
		case tt.want == "" && err != nil, tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want)):
			t.Errorf("%s: %v", tt.keys, err)
		case err == nil && s.Monitor.As.Name == "a" && (s.Monitor.As.Level != snap.AuthNoPriv || s.Monitor.As.AuthPassword.Reveal() != "first phrase"):
			t.Errorf("%s: %v, %+v", tt.keys, s.Monitor.As.Level, s.Monitor.As)
		}
	}
}
