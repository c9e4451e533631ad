package snmp

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const (
	authWord = "authentication phrase"
	privWord = "privacy phrase"
)

// combos is every user that the protocols allow: 1 + 6 + 6*6.
func combos() []snap.User {
	whole := snap.Views{Read: snap.Everything(), Write: snap.Everything(), Notify: snap.Everything()}
	list := []snap.User{{Name: "nobody", Views: whole}}
	for auth := snap.AuthMD5; auth <= snap.AuthSHA512; auth++ {
		for priv := snap.PrivNone; priv <= snap.PrivAES256Reeder; priv++ {
			u := snap.User{Name: fmt.Sprint(auth, "/", priv), Auth: auth, Priv: priv, AuthPassword: snap.NewSecret(authWord), Views: whole}
			if priv != snap.PrivNone {
				u.PrivPassword = snap.NewSecret(privWord)
			}
			u.Level = u.Highest()
			list = append(list, u)
		}
	}
	return list
}

// combo is the user with those protocols.
func combo(auth snap.AuthProtocol, priv snap.PrivProtocol) snap.User {
	users := combos()
	return users[slices.IndexFunc(users, func(u snap.User) bool { return u.Auth == auth && u.Priv == priv })]
}

// secured is demo with users.
func secured(users ...snap.User) *fake {
	f := demo()
	f.change(func(d *snap.Device) {
		a := *snap.DefaultAccess()
		a.V3, a.Users = true, users
		d.Card.Access = &a
	})
	return f
}

var clientAuth = map[snap.AuthProtocol]gosnmp.SnmpV3AuthProtocol{
	snap.AuthNone: gosnmp.NoAuth, snap.AuthMD5: gosnmp.MD5, snap.AuthSHA1: gosnmp.SHA, snap.AuthSHA224: gosnmp.SHA224,
	snap.AuthSHA256: gosnmp.SHA256, snap.AuthSHA384: gosnmp.SHA384, snap.AuthSHA512: gosnmp.SHA512,
}

var clientPriv = map[snap.PrivProtocol]gosnmp.SnmpV3PrivProtocol{
	snap.PrivNone: gosnmp.NoPriv, snap.PrivDES: gosnmp.DES, snap.PrivAES128: gosnmp.AES,
	snap.PrivAES192Blumenthal: gosnmp.AES192, snap.PrivAES256Blumenthal: gosnmp.AES256,
	snap.PrivAES192Reeder: gosnmp.AES192C, snap.PrivAES256Reeder: gosnmp.AES256C,
}

// client3 is an independent manager that knows u's passwords.
func client3(t *testing.T, port int, u snap.User) *gosnmp.GoSNMP {
	t.Helper()
	flags := map[snap.SecurityLevel]gosnmp.SnmpV3MsgFlags{
		snap.NoAuthNoPriv: gosnmp.NoAuthNoPriv, snap.AuthNoPriv: gosnmp.AuthNoPriv, snap.AuthPriv: gosnmp.AuthPriv}
	g := &gosnmp.GoSNMP{
		Target: "127.0.0.1", Port: uint16(port), Version: gosnmp.Version3, Timeout: 20 * time.Second, MaxOids: 60, MaxRepetitions: 20,
		SecurityModel: gosnmp.UserSecurityModel, MsgFlags: flags[u.Highest()],
		SecurityParameters: &gosnmp.UsmSecurityParameters{
			UserName:               u.Name,
			AuthenticationProtocol: clientAuth[u.Auth], AuthenticationPassphrase: u.AuthPassword.Reveal(),
			PrivacyProtocol: clientPriv[u.Priv], PrivacyPassphrase: u.PrivPassword.Reveal(),
		},
	}
	if err := g.Connect(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { g.Conn.Close() })
	return g
}

// TestMatrix has an independent manager read, walk and write with each of the 43
// combinations of protocols.
func TestMatrix(t *testing.T) {
	users := combos()
	if len(users) != 43 {
		t.Fatalf("%d combinations", len(users))
	}
	f := secured(users...)
	port := serve(t, New(f, Config{Salt: 1<<32 - 20})).Port // the salts pass 2^32
	want := instances(f)
	for _, u := range users {
		t.Run(u.Name, func(t *testing.T) {
			g := client3(t, port, u)
			got, err := g.Get([]string{"." + batteryVolt})
			if err != nil || got.Variables[0].Value != 732 {
				t.Fatalf("get: %v, %+v", err, got)
			}
			got, err = g.GetNext([]string{"." + sysDescr})
			if err != nil || got.Variables[0].Name != ".1.3.6.1.2.1.1.2.0" {
				t.Errorf("get-next: %v, %+v", err, got)
			}
			var names []string
			if err := g.BulkWalk(".1.3.6.1", func(p gosnmp.SnmpPDU) error {
				names = append(names, strings.TrimPrefix(p.Name, "."))
				return nil
			}); err != nil {
				t.Errorf("bulk walk: %v", err)
			}
			if diff := cmp.Diff(want, names); diff != "" {
				t.Error(diff)
			}
			got, err = g.Set([]gosnmp.SnmpPDU{{Name: "." + sysContact, Type: gosnmp.OctetString, Value: u.Name}})
			if err != nil || got.Error != gosnmp.NoError {
				t.Errorf("set: %v, %+v", err, got)
			}
			if c := f.submitted(); len(c) != 1 || c[0].Sets[0].Text != u.Name || c[0].By.User != u.Name {
				t.Errorf("the engine got %+v", c)
			}
			got, err = g.Set([]gosnmp.SnmpPDU{{Name: "." + sysContact, Type: gosnmp.Integer, Value: 1}})
			if err != nil || got.Error != gosnmp.WrongType {
				t.Errorf("set of a wrong type: %v, %+v", err, got)
			}
		})
	}
}

// The names of the protocols for the command-line tools.
var (
	toolAuth = map[snap.AuthProtocol]string{snap.AuthMD5: "MD5", snap.AuthSHA1: "SHA", snap.AuthSHA224: "SHA-224",
		snap.AuthSHA256: "SHA-256", snap.AuthSHA384: "SHA-384", snap.AuthSHA512: "SHA-512"}
	toolPriv = map[snap.PrivProtocol]string{snap.PrivDES: "DES", snap.PrivAES128: "AES", snap.PrivAES192Blumenthal: "AES-192",
		snap.PrivAES256Blumenthal: "AES-256", snap.PrivAES192Reeder: "AES-192-C", snap.PrivAES256Reeder: "AES-256-C"}
)

// toolArgs are the arguments by which the tools act as u.
func toolArgs(u snap.User) []string {
	args := []string{"-v3", "-r", "0", "-t", "5", "-On", "-u", u.Name, "-l", u.Highest().String()}
	if u.Auth != snap.AuthNone {
		args = append(args, "-a", toolAuth[u.Auth], "-A", u.AuthPassword.Reveal())
	}
	if u.Priv != snap.PrivNone {
		args = append(args, "-x", toolPriv[u.Priv], "-X", u.PrivPassword.Reveal())
	}
	return args
}

func TestToolMatrix(t *testing.T) {
	users := combos()
	f := secured(users...)
	target := fmt.Sprint("udp:", serve(t, New(f, Config{})))
	for _, u := range users {
		t.Run(u.Name, func(t *testing.T) {
			for _, run := range []struct {
				name string
				args []string
				want string
			}{
				{"snmpget", []string{target, batteryVolt}, batteryVolt + " = INTEGER: 732"},
				{"snmpset", []string{target, sysContact, "s", "new"}, sysContact + ` = STRING: "new"`},
				{"snmpbulkwalk", []string{"-Cr40", target, "1.3.6.1.6.3.10"}, "1.3.6.1.6.3.10.2.1.4.0 = INTEGER: 1472"},
			} {
				out, err := tool(t, run.name, slices.Concat(toolArgs(u), run.args)...)
				if err != nil || !strings.Contains(out, run.want) {
					t.Errorf("%s: %v: %s", run.name, err, out)
				}
			}
		})
	}
}

// TestToolsRefused: each wrong thing is told apart by the tools.
func TestToolsRefused(t *testing.T) {
	right := combo(snap.AuthMD5, snap.PrivAES128)
	right.Views.Write = nil
	f := secured(right)
	target := fmt.Sprint("udp:", serve(t, New(f, Config{})))
	for _, tt := range []struct {
		name, run string
		change    func(*snap.User)
		want      string
	}{
		{"user", "snmpget", func(u *snap.User) { u.Name = "other" }, "Unknown user name"},
		{"auth password", "snmpget", func(u *snap.User) { u.AuthPassword = snap.NewSecret("guessed it") }, "Authentication failure (incorrect password, community or key)"},
		{"auth protocol", "snmpget", func(u *snap.User) { u.Auth = snap.AuthSHA1 }, "Authentication failure (incorrect password, community or key)"},
		{"priv password", "snmpget", func(u *snap.User) { u.PrivPassword = snap.NewSecret("guessed it") }, "Timeout"},
		{"level", "snmpget", func(u *snap.User) { u.Priv = snap.PrivNone }, "authorizationError"},
		{"write", "snmpset", func(*snap.User) {}, "authorizationError"},
		{"context", "snmpget -n bridge", func(*snap.User) {}, "Bad context specified"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			u := right
			tt.change(&u)
			args := toolArgs(u)
			if tt.want == "Timeout" {
				args[slices.Index(args, "-t")+1] = "0.3"
			}
			run := strings.Fields(tt.run)
			args = slices.Concat(run[1:], args, []string{target, sysContact})
			if run[0] == "snmpset" {
				args = append(args, "s", "x")
			}
			if out, _ := tool(t, run[0], args...); !strings.Contains(out, tt.want) {
				t.Errorf("got %q, want %q", out, tt.want)
			}
		})
	}
	if c := f.submitted(); len(c) != 0 {
		t.Errorf("the engine got %+v", c)
	}
}

// TestRestartOfTheCard: a manager that was in time gets its values again without
// being restarted, at most one exchange later.
func TestRestartOfTheCard(t *testing.T) {
	u := combo(snap.AuthSHA256, snap.PrivAES128)
	f := secured(u)
	g := client3(t, serve(t, New(f, Config{})).Port, u)
	get := func() {
		t.Helper()
		got, err := g.Get([]string{"." + batteryVolt})
		if err != nil || got.Variables[0].Value != 732 {
			t.Fatalf("%v, %+v", err, got)
		}
	}
	get()
	for range 3 {
		f.change(func(d *snap.Device) { d.Card.Boots++; d.Card.StartedAt += 20 * vtime.Second })
		exchanges := 0
		g.OnSent = func(*gosnmp.GoSNMP) { exchanges++ }
		get()
		if exchanges > 2 {
			t.Errorf("%d exchanges after a restart", exchanges)
		}
	}
}
