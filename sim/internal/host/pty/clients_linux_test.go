package pty

import (
	"context"
	"os/exec"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
)

// dialog is what a technician types in a terminal program, as expect plays it.
const dialog = `
set timeout 20
proc want {text} {
	expect {
		-exact $text {}
		timeout { puts "NEVER: $text"; exit 9 }
		eof { puts "ENDED before $text"; exit 9 }
	}
}
set stty_init raw
spawn -noecho PROGRAM
BEGIN
send "\r"
want "SIMULATION"
want "user: "
send "installer\r"
want "password: "
send "correct horse\r"
want "card> "
send "stx\x7fatus\r"
want "source: mains"
want "card> "
send "\x1b\[Aleave\r"
want "Signed out."
END
`

// TestTerminalPrograms signs in with real terminal programs, several times in a
// row on the same line.
func TestTerminalPrograms(t *testing.T) {
	_, s := start(t, func(c *Config) { c.Baud = 115200 })
	for _, p := range []struct{ name, args, begin, end string }{
		{"picocom", "-b 115200 " + s.Path(), `want "Terminal ready"`, "send \"\x01\x18\"\nexpect eof"},
		{"socat", "-,raw,echo=0 " + s.Path() + ",raw,echo=0", "", "close"},
	} {
		t.Run(p.name, func(t *testing.T) {
			checks.Program(t, "expect")
			checks.Program(t, p.name)
			script := strings.NewReplacer("PROGRAM", p.name+" "+p.args, "BEGIN", p.begin, "END", p.end).Replace(dialog)
			for range 4 {
				ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
				out, err := exec.CommandContext(ctx, "expect", "-c", script).CombinedOutput()
				cancel()
				if err != nil {
					t.Fatalf("%v:\n%s", err, out)
				}
			}
		})
	}
}

// TestShell uses the line as a shell script does: one descriptor, no terminal
// program.
func TestShell(t *testing.T) {
	checks.Program(t, "bash")
	_, s := start(t, nil)
	c := exec.Command("bash", "-c", `exec 3<>"$0"; printf '\r' >&3; head -c 60 <&3`, s.Path())
	out, err := c.CombinedOutput()
	if err != nil || !strings.Contains(string(out), "SIMULATION") {
		t.Errorf("%v: %q", err, out)
	}
}
