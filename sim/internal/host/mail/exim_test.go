package mail

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
)

// eximRules are a relay of its own: one mailbox, a second address that comes later,
// a user with a password, everything under one folder.
const eximRules = `
primary_hostname = relay.example
spool_directory = DIR/spool
log_file_path = DIR/log/%s
exim_user = USER
exim_group = GROUP
never_users =
deliver_drop_privilege = true
trusted_users = USER
rfc1413_query_timeout = 0s
keep_environment =
tls_advertise_hosts = *
tls_certificate = DIR/cert.pem
tls_privatekey = DIR/key.pem
auth_advertise_hosts = ${if eq{$tls_in_cipher}{}{}{*}}
queue_only = true
acl_smtp_rcpt = rcpt
begin acl
rcpt:
  defer  local_parts = later
         message = come again later
  deny   !local_parts = desk
         message = no such mailbox
  accept
begin authenticators
plain:
  driver = plaintext
  public_name = PLAIN
  server_condition = ${if and{{eq{$auth2}{card}}{eq{$auth3}{planted relay word}}}}
  server_set_id = $auth2
`

// startExim is where a relay answers until the test ends, and its certificate.
func startExim(t *testing.T) (at, digest, folder string) {
	t.Helper()
	exim := checks.Program(t, "exim4") // Debian has it in exim4-daemon-light
	dir := t.TempDir()
	for _, sub := range []string{"spool", "log"} {
		if err := os.Mkdir(filepath.Join(dir, sub), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	cert, digest := certificate(t)
	key, err := x509.MarshalECPrivateKey(cert.PrivateKey.(*ecdsa.PrivateKey))
	if err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "cert.pem"), pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert.Certificate[0]}))
	write(t, filepath.Join(dir, "key.pem"), pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: key}))
	rules := strings.NewReplacer("DIR", dir, "USER", fmt.Sprint(os.Getuid()), "GROUP", fmt.Sprint(os.Getgid())).Replace(eximRules)
	write(t, filepath.Join(dir, "exim.conf"), []byte(rules))
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	all.Go(func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			all.Go(func() { answer(t, exim, filepath.Join(dir, "exim.conf"), conn.(*net.TCPConn)) })
		}
	})
	t.Cleanup(func() { l.Close(); all.Wait() })
	return l.Addr().String(), digest, dir
}

// answer has exim speak on one connection, as inetd would.
func answer(t *testing.T, exim, rules string, conn *net.TCPConn) {
	defer conn.Close()
	file, err := conn.File()
	if err != nil {
		t.Error(err)
		return
	}
	defer file.Close()
	cmd := exec.Command(exim, "-C", rules, "-bs")
	cmd.Stdin, cmd.Stdout = file, file
	var errs bytes.Buffer
	cmd.Stderr = &errs
	if err := cmd.Run(); err != nil && errs.Len() > 0 {
		t.Logf("exim: %v: %s", err, errs.String())
	}
}

func write(t *testing.T, name string, text []byte) {
	t.Helper()
	if err := os.WriteFile(name, text, 0o600); err != nil {
		t.Fatal(err)
	}
}

// TestExim: a real mail server takes mail over STARTTLS with sign-in, and says in its
// own words what it does not take.
func TestExim(t *testing.T) {
	at, digest, dir := startExim(t)
	set := func(m *snap.MailSettings) {
		m.Trust, m.User, m.Password = digest, "card", snap.NewSecret("planted relay word")
	}
	if r := Send(context.Background(), post(set), at); r.Outcome != snap.Delivered {
		t.Fatalf("%+v", r)
	}
	files, err := filepath.Glob(filepath.Join(dir, "spool", "input", "*-D"))
	if err != nil || len(files) != 1 {
		deeper, _ := filepath.Glob(filepath.Join(dir, "spool", "input", "*", "*-D"))
		files = append(files, deeper...)
	}
	if len(files) != 1 {
		t.Fatalf("%d messages in the spool", len(files))
	}
	text, err := os.ReadFile(files[0])
	if err != nil || !strings.Contains(string(text), "The load runs on battery.") {
		t.Errorf("%v\n%s", err, text)
	}
	for name, row := range map[string]struct {
		address string
		set     func(*snap.MailSettings)
		outcome snap.Outcome
		reason  string
	}{
		"typing error":   {"dseks@site.example", set, snap.Rejected, "no such mailbox"},
		"greylisted":     {"later@site.example", set, snap.Deferred, "come again later"},
		"wrong password": {"desk@site.example", func(m *snap.MailSettings) { set(m); m.Password = snap.NewSecret("another word") }, snap.Deferred, "535"},
	} {
		p := post(row.set)
		p.Letter.To, p.Address = row.address, row.address
		if r := Send(context.Background(), p, at); r.Outcome != row.outcome || !r.Answered || !strings.Contains(r.Reason, row.reason) {
			t.Errorf("%s: %+v", name, r)
		}
	}
}
