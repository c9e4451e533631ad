package sim_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"net"
	"strings"
	"testing"
	"time"

	"golang.org/x/crypto/ssh"

	"ridethrough/sim"
)

// shell runs one command line on the card over SSH, with a text on its standard
// input; it returns what came back, the exit status and the card's public key.
func (c *card) shell(line, input string) (text string, status int, key string) {
	c.t.Helper()
	client, err := ssh.Dial("tcp", c.ready.Endpoints.SSH, &ssh.ClientConfig{
		User: c.ready.Label.User, Auth: []ssh.AuthMethod{ssh.Password(c.ready.Label.Password)}, Timeout: 10 * time.Second,
		HostKeyCallback: func(_ string, _ net.Addr, k ssh.PublicKey) error {
			key = string(ssh.MarshalAuthorizedKey(k))
			return nil
		},
	})
	if err != nil {
		c.t.Fatal(err)
	}
	defer client.Close()
	session, err := client.NewSession()
	if err != nil {
		c.t.Fatal(err)
	}
	defer session.Close()
	var out, refusal bytes.Buffer
	session.Stdout, session.Stderr, session.Stdin = &out, &refusal, strings.NewReader(input)
	err = session.Run(line)
	var exit *ssh.ExitError
	if errors.As(err, &exit) {
		status = exit.ExitStatus()
	} else if err != nil {
		c.t.Fatalf("%s: %v, %q", line, err, &out)
	}
	return out.String() + refusal.String(), status, key
}

const snmpEngineBoots = ".1.3.6.1.6.3.10.2.1.2.0"

// TestSettingsTravelAsText: out of a card and into it over SSH, kept for its next
// session with its key; and back to the factory's state.
func TestSettingsTravelAsText(t *testing.T) {
	opts := sim.ServeOptions{Speed: 60, State: t.TempDir()}
	c := serveText(t, served, opts)
	text, status, key := c.shell("export", "")
	if status != 0 || strings.Contains(text, "look") || !strings.Contains(text, `contact = ""`) {
		t.Fatalf("%d\n%s", status, text)
	}
	if out, status, _ := c.shell("import", strings.Replace(text, `contact = ""`, `contact = "night desk"`, 1)); status != 0 || out != "Saved.\n" {
		t.Errorf("%d %s", status, out)
	}
	if out, status, _ := c.shell("import", "[identity]\ncontact = 'x'\n[reach]\nmode = 'never'"); status != 2 || !strings.HasPrefix(out, "Nothing was taken: text:4:1: reach.mode") {
		t.Errorf("%d %s", status, out)
	}
	c.end()

	c = serveText(t, served, opts)
	out, _, again := c.shell("export", "")
	if !strings.Contains(out, `contact = "night desk"`) || again != key || c.number(snmpEngineBoots) != 2 {
		t.Errorf("the next session has boots %d, the same key: %v\n%s", c.number(snmpEngineBoots), again == key, out)
	}
	if out, status, _ := c.shell("reset all", ""); status != 2 || !strings.Contains(out, "CAUTION") || !strings.Contains(out, "--confirm") {
		t.Errorf("%d %s", status, out)
	}
	if out, status, _ := c.shell("reset all --confirm", ""); status != 0 || !strings.Contains(out, "restarts now") {
		t.Errorf("%d %s", status, out)
	}
	c.until(snmpEngineBoots, 3) // it has booted
	c.end()

	c = serveText(t, served, opts)
	out, _, again = c.shell("export", "")
	if !strings.Contains(out, `contact = ""`) || again == key || c.number(snmpEngineBoots) != 4 {
		t.Errorf("after the reset boots %d, the same key: %v\n%s", c.number(snmpEngineBoots), again == key, out)
	}
	if journal, _, _ := c.shell("journal all", ""); strings.Contains(journal, "settings saved") || !strings.Contains(journal, "reset of all to the factory's state by technician, administrator (ssh from ") {
		t.Errorf("the journal after the reset:\n%s", journal)
	}
	c.end()
}

// TestLogsOutliveSessions: journals and data log go on with their numbers, and the
// meters with what they had counted, until they are set to 0.
func TestLogsOutliveSessions(t *testing.T) {
	opts := sim.ServeOptions{Speed: 3600, State: t.TempDir()}
	text := served + "[card.settings]\n'upkeep.data.every' = '1m'\n"
	type entry struct {
		Seq     int
		Journal string
		KWh     float64 `json:"energy_kwh"`
	}
	read := func(c *card, line string) (list []entry) {
		t.Helper()
		out, status, _ := c.shell(line+" --json", "")
		var doc struct{ Entries []entry }
		if err := json.Unmarshal([]byte(out), &doc); err != nil || status != 0 || len(doc.Entries) == 0 {
			t.Fatalf("%s: %v, %d, %s", line, err, status, out)
		}
		return doc.Entries
	}
	var seq, data int
	var kwh float64
	for life := range 3 {
		c := serveText(t, text, opts)
		for c.number(".1.3.6.1.2.1.1.3.0") < 60_000 { // ten minutes of sysUpTime
		}
		journal, log := read(c, "journal"), read(c, "data-log")
		if journal[0].Seq != 1 || log[0].Seq != 1 || journal[len(journal)-1].Seq <= seq || log[len(log)-1].Seq < data+10 {
			t.Errorf("life %d: after %d and %d comes %+v and %+v", life, seq, data, journal[len(journal)-1], log[len(log)-1])
		}
		resets := 0
		for i := range log[1:] {
			if log[i+1].KWh < log[i].KWh {
				resets++
			}
			if log[i+1].Seq != log[i].Seq+1 {
				t.Errorf("life %d: %+v is followed by %+v", life, log[i], log[i+1])
			}
		}
		if resets != life/2 { // in the second life the meter was set to 0, after its log was read
			t.Errorf("life %d: the meter went back %d times", life, resets)
		}
		if used := log[len(log)-1].KWh; used < kwh+0.9*0.15 {
			t.Errorf("life %d: %.3f kWh after %.3f and ten minutes", life, used, kwh)
		} else {
			kwh = used
		}
		seq, data = journal[len(journal)-1].Seq, log[len(log)-1].Seq
		if life == 1 {
			if out, status, _ := c.shell("energy-reset --confirm", ""); status != 0 {
				t.Error(out)
			}
			kwh = 0
		}
		c.end()
	}
}
