package sim_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"ridethrough/sim"
)

// firstAddress is a card whose address plan says 192.0.2.10/24, gateway 192.0.2.1, and
// a receiver behind that. What stands in CARD and NETWORK may differ.
const firstAddress = `
title = "first address"
seed = 72
run_for = "24h"
[card]
must_change_password = false
CARD
[network]
subnet = "192.0.2.0/24"
router = "192.0.2.1"
NETWORK
[[peer]]
name = "receiver"
address = "198.51.100.20/24"
[[host]]
name = "a"
draw_w = 1
`

// console is somebody who has signed in at the serial line.
type console struct {
	t    *testing.T
	line *os.File
	seen string
}

func (c *card) console() *console {
	c.t.Helper()
	line, err := os.OpenFile(c.ready.Endpoints.Serial, os.O_RDWR, 0)
	if err != nil {
		c.t.Fatal(err)
	}
	s := &console{t: c.t, line: line}
	for _, x := range [][2]string{{"", "user: "}, {c.ready.Label.User, "password: "}, {c.ready.Label.Password, "card> "}} {
		s.say(x[0], x[1])
	}
	return s
}

// say types a line and returns what is shown until the words.
func (s *console) say(text, until string) string {
	s.t.Helper()
	fmt.Fprint(s.line, text+"\r")
	for buf := make([]byte, 256); ; {
		if i := strings.Index(s.seen, until); i >= 0 {
			got := s.seen[:i]
			s.seen = s.seen[i+len(until):]
			return got
		}
		n, err := s.line.Read(buf)
		if err != nil {
			s.t.Fatalf("%v after %q", err, s.seen)
		}
		s.seen += string(buf[:n])
	}
}

// diagnose is a technician with the address plan and nothing but the serial line: what
// is wrong, in the order in which he looks.
func (s *console) diagnose() string {
	reach := s.say("reach", "card> ")
	gateway, receiver := s.say("ping 192.0.2.1", "card> "), s.say("ping 198.51.100.20", "card> ")
	journal := s.say("journal system", "card> ")
	has := func(text, words string) bool { return strings.Contains(strings.Join(strings.Fields(text), " "), words) }
	switch {
	case has(reach, "no-link") && has(gateway, "look at the lead"):
		return "no link"
	case has(reach, "duplicate") && has(journal, "another machine has the address 192.0.2.10"):
		return "duplicate address"
	case has(reach, "searching, no address yet") && has(gateway, "no address yet"):
		return "no address server"
	case has(receiver, "compare the mask"):
		return "mask"
	case has(receiver, "compare the gateway"):
		return "gateway"
	case has(receiver, "the card has no gateway"):
		return "no gateway"
	case has(gateway, "nothing comes back"), has(receiver, "nothing comes back"):
		return "the way back"
	case has(gateway, "answers") && has(receiver, "answers"):
		return "nothing"
	}
	return reach + gateway + receiver + journal
}

// TestFirstAddressFaults: whatever is wrong with a card's first address, the card itself
// tells it apart from all else. A wrong speed of the serial line is in host/pty: it shows
// as garbage, and so nothing else can be looked at.
func TestFirstAddressFaults(t *testing.T) {
	const plan, gateway = `address = "192.0.2.10/24"` + "\n", `gateway = "192.0.2.1"` + "\n"
	for _, c := range []struct{ want, card, network, happens string }{
		{"nothing", plan + gateway, "", ""},
		{"nothing", `address = "dhcp"`, "", ""},
		{"no link", plan + gateway, "", `link = "down"`},
		{"duplicate address", plan + gateway, `taken = ["192.0.2.10"]`, ""},
		{"duplicate address", plan + gateway, "", `network = { claim = "192.0.2.10" }`},
		{"no address server", `address = "dhcp"`, `dhcp = "absent"`, ""},
		{"mask", `address = "192.0.2.10/1"` + "\n" + gateway, "", ""},
		{"gateway", plan + `gateway = "192.0.2.2"`, "", ""},
		{"gateway", plan + gateway, "", `network = { router = "absent" }`},
		{"no gateway", plan, "", ""},
		{"gateway", `address = "203.0.113.10/24"` + "\n" + `gateway = "203.0.113.1"`, "", ""},
		{"the way back", `address = "192.0.3.10/23"` + "\n" + gateway, "", ""},
	} {
		text := strings.NewReplacer("CARD", c.card, "NETWORK", c.network).Replace(firstAddress)
		served := serveText(t, text, sim.ServeOptions{})
		if c.happens != "" {
			if code, body := served.send(c.happens); code != 200 {
				t.Fatal(body)
			}
		}
		who := served.console()
		if got := who.diagnose(); got != c.want {
			t.Errorf("with %q, %q, %q he finds %s; it is: %s", c.card, c.network, c.happens, got, c.want)
		}
		who.line.Close()
		served.end()
	}
}
