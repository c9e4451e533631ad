package sim_test

import (
	"bytes"
	"crypto/ed25519"
	"io"
	"net"
	"strings"
	"testing"
	"time"

	"golang.org/x/crypto/ssh"

	"ridethrough/sim"
)

// oldPassword is a card with an account whose password is ten days too old.
const oldPassword = `
title = "old"
seed = 42
run_for = "24h"
[card]
must_change_password = false
[[card.account]]
user = "ops"
role = "operator"
password = "an old phrase of mine"
password_days = 100
[[card.account]]
user = "duty"
password = "an old phrase of mine"
password_days = 100
[card.settings]
"access.password-age" = "90 days"
"access.key.desk.user" = "ops"
"access.key.desk.line" = "KEY"
[[host]]
name = "db"
draw_w = 300
`

func (c *card) as(user string, auth ssh.AuthMethod) *ssh.Client {
	c.t.Helper()
	client, err := ssh.Dial("tcp", c.ready.Endpoints.SSH, &ssh.ClientConfig{
		User: user, Auth: []ssh.AuthMethod{auth}, Timeout: 10 * time.Second,
		HostKeyCallback: func(string, net.Addr, ssh.PublicKey) error { return nil },
	})
	if err != nil {
		c.t.Fatal(err)
	}
	return client
}

// line is what one command line gives, and its exit status.
func line(t *testing.T, client *ssh.Client, text string) (string, int) {
	t.Helper()
	return lineWith(t, client, text, "")
}

// lineWith is the same with a text on the standard input.
func lineWith(t *testing.T, client *ssh.Client, text, input string) (string, int) {
	t.Helper()
	session, err := client.NewSession()
	if err != nil {
		t.Fatal(err)
	}
	defer session.Close()
	session.Stdin = strings.NewReader(input)
	out, err := session.CombinedOutput(text)
	status := 0
	if exit, ok := err.(*ssh.ExitError); ok {
		status = exit.ExitStatus()
	} else if err != nil {
		t.Fatal(err)
	}
	return string(out), status
}

// TestExpiredPassword: over SSH it opens a dialog that asks for another one, and no command
// line, which says so; a public key opens both. With the other one all is as before.
func TestExpiredPassword(t *testing.T) {
	_, private, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	signer, err := ssh.NewSignerFromKey(private)
	if err != nil {
		t.Fatal(err)
	}
	key := strings.TrimSpace(string(ssh.MarshalAuthorizedKey(signer.PublicKey())))
	c := serveText(t, strings.Replace(oldPassword, "KEY", key, 1), sim.ServeOptions{})

	old := c.as("ops", ssh.Password("an old phrase of mine"))
	if out, status := line(t, old, "battery"); status != 2 || !strings.HasPrefix(out, "The password has expired: sign in with a public key, or choose another password: open a session") || strings.Count(out, "\n") != 1 {
		t.Errorf("%d %q", status, out)
	}
	old.Close()
	byKey := c.as("ops", ssh.PublicKeys(signer))
	if out, status := line(t, byKey, "battery"); status != 0 || !strings.Contains(out, "Charge") {
		t.Errorf("by a key: %d %q", status, out)
	}
	byKey.Close()

	old = c.as("ops", ssh.Password("an old phrase of mine"))
	const another = "something else entirely"
	said := converse(t, old, "an old phrase of mine", another, another, "battery", "quit")
	for _, want := range []string{"This password has expired: choose another one now.", "That is the password as it was.", "The password is changed.", "Charge"} {
		if !strings.Contains(said, want) {
			t.Errorf("no %q in\n%s", want, said)
		}
	}
	old.Close()
	fresh := c.as("ops", ssh.Password(another))
	if out, status := line(t, fresh, "battery"); status != 0 {
		t.Errorf("%d %q", status, out)
	}
	fresh.Close()

	duty := c.as("duty", ssh.Password("an old phrase of mine"))
	if out, status := lineWith(t, duty, "password --stdin", "an old phrase of mine\n"+another+"\n"); status != 0 {
		t.Errorf("%d %q", status, out)
	}
	duty.Close()
	duty = c.as("duty", ssh.Password(another))
	if out, status := line(t, duty, "battery"); status != 0 {
		t.Errorf("%d %q", status, out)
	}
	duty.Close()
	c.end()
}

// converse types lines into a dialog and has what it said until it ended.
func converse(t *testing.T, client *ssh.Client, lines ...string) string {
	t.Helper()
	session, err := client.NewSession()
	if err != nil {
		t.Fatal(err)
	}
	defer session.Close()
	var said bytes.Buffer
	session.Stdout = &said
	in, err := session.StdinPipe()
	if err == nil {
		err = session.RequestPty("vt100", 24, 120, nil)
	}
	if err == nil {
		err = session.Shell()
	}
	if err == nil {
		_, err = io.WriteString(in, strings.Join(lines, "\r")+"\r")
	}
	if err != nil {
		t.Fatal(err)
	}
	session.Wait() // it ends by itself
	return said.String()
}
