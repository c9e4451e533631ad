package snmp

import (
	"fmt"
	"os/exec"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
)

// The protocols for the Perl client, which knows no more.
var (
	perlAuth = map[snap.AuthProtocol]string{snap.AuthMD5: "md5", snap.AuthSHA1: "sha1"}
	perlPriv = map[snap.PrivProtocol]string{snap.PrivDES: "des", snap.PrivAES128: "aes"}
)

// perlRuns are the arguments with which the Perl client comes in, for every version
// and every pair of protocols that it knows.
func perlRuns() (users []snap.User, runs [][]string) {
	runs = [][]string{{"1", "steer"}, {"2c", "steer"}}
	for i, u := range combos() {
		auth, priv := perlAuth[u.Auth], perlPriv[u.Priv]
		if u.Auth != snap.AuthNone && auth == "" || u.Priv != snap.PrivNone && priv == "" {
			continue
		}
		u.Name = fmt.Sprint("user", i)
		users = append(users, u)
		run := []string{"3", u.Name}
		if auth != "" {
			run = append(run, auth, u.AuthPassword.Reveal())
		}
		if priv != "" {
			run = append(run, priv, u.PrivPassword.Reveal())
		}
		runs = append(runs, run)
	}
	return users, runs
}

// TestPerlClient has a third implementation read, walk and write.
func TestPerlClient(t *testing.T) {
	modules := []string{"-MNet::SNMP", "-MCrypt::DES", "-MCrypt::Rijndael", "-MDigest::HMAC", "-e", "1"}
	if out, err := exec.Command("perl", modules...).CombinedOutput(); err != nil {
		checks.Lacks(t, "needs perl with Net::SNMP, Crypt::DES, Crypt::Rijndael and Digest::HMAC: %v: %s", err, out)
	}
	users, runs := perlRuns()
	if len(runs) != 2+1+2*3 {
		t.Fatalf("%d ways to come in", len(runs))
	}
	f := secured(users...)
	to := serve(t, New(f, Config{}))
	want := instances(f)
	for _, run := range runs {
		t.Run(strings.Join(run[:min(len(run), 3)], " "), func(t *testing.T) {
			out, err := tool(t, "perl", append([]string{"testdata/client.pl", to.IP.String(), fmt.Sprint(to.Port)}, run...)...)
			if err != nil {
				t.Fatalf("%v: %s", err, out)
			}
			lines := map[string][]string{}
			for line := range strings.Lines(out) {
				word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
				lines[word] = append(lines[word], rest)
			}
			refusal := "7 1" // wrongType
			if run[0] == "1" {
				refusal = "3 1" // badValue
			}
			for word, want := range map[string]string{"get": "732", "next": "1.3.6.1.2.1.1.2.0", "set": "", "refused": refusal} {
				if diff := cmp.Diff([]string{want}, lines[word]); diff != "" {
					t.Errorf("%s: %s", word, diff)
				}
			}
			if diff := cmp.Diff(want, lines["walk"]); diff != "" {
				t.Errorf("walk: %s", diff)
			}
			if diff := cmp.Diff(beneath("1.3.6.1.2.1.33.", want), lines["table"]); run[0] != "1" && diff != "" {
				t.Errorf("table: %s", diff)
			}
			if c := f.submitted(); len(c) != 1 || c[0].Sets[0].Text != "new" {
				t.Errorf("the engine got %+v", c)
			}
		})
	}
}

// beneath is those of names that begin with prefix.
func beneath(prefix string, names []string) (list []string) {
	for _, name := range names {
		if strings.HasPrefix(name, prefix) {
			list = append(list, name)
		}
	}
	return list
}
