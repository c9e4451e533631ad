package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"
	gossh "golang.org/x/crypto/ssh"
)

// What may be killed is a whole process: only that leaves a file as a kill does.

const killed = `
title = "killed"
seed = 5
run_for = "24h"
[card]
must_change_password = false
read_community = "look"
write_community = "touch"
`

const (
	engineBoots = ".1.3.6.1.6.3.10.2.1.2.0" // RFC 3411
	sysContact  = ".1.3.6.1.2.1.1.4.0"
	sysLocation = ".1.3.6.1.2.1.1.6.0"
	lowBattTime = ".1.3.6.1.2.1.33.1.9.7.0"
)

// kills is how often a process is killed.
func kills() int {
	if testing.Short() {
		return 20
	}
	return 220
}

// TestKilledAtAnyInstant kills a served card at random instants. After every
// start the card has what was acknowledged, one boot more, and no number of its
// journal means two things.
func TestKilledAtAnyInstant(t *testing.T) {
	v := &victim{t: t, dice: rand.New(rand.NewPCG(5, 0)), dir: t.TempDir(), journal: map[int]string{}}
	v.scenario = filepath.Join(v.dir, "killed.toml")
	if err := os.WriteFile(v.scenario, []byte(killed), 0o600); err != nil {
		t.Fatal(err)
	}
	n := kills()
	for i := range n {
		switch {
		case i%5 == 1:
			v.killUnborn()
		case i%5 == 3:
			v.live(v.saveOverSSH)
		default:
			v.live(v.setOverSNMP)
		}
		if t.Failed() {
			t.Fatalf("after %d kills", i)
		}
	}
	t.Logf("%d kills, %d writes acknowledged and %d saves, boots %d, %d entries of the journal seen",
		n, v.location.acked+v.low.acked, v.contact.acked, v.boots, len(v.journal))
	if v.location.acked < n/4 || v.contact.acked < n/20 || v.boots < n/2 {
		t.Error("too little was acknowledged to prove anything")
	}
}

// TestKilledWhileNew kills cards in the middle of making their memory. Each starts
// all the same the next time, with one boot or two.
func TestKilledWhileNew(t *testing.T) {
	v := &victim{t: t, dice: rand.New(rand.NewPCG(6, 0)), dir: t.TempDir(), journal: map[int]string{}}
	v.scenario = filepath.Join(v.dir, "killed.toml")
	if err := os.WriteFile(v.scenario, []byte(killed), 0o600); err != nil {
		t.Fatal(err)
	}
	for range kills() / 8 {
		v.boots = 0
		v.killUnborn()
		v.live(func() error { return io.EOF })
		if t.Failed() {
			t.FailNow()
		}
		v.state++
	}
}

// counter is a value that only rises: what was acknowledged, and what was sent.
type counter struct{ acked, sent int }

func (c *counter) check(t *testing.T, what string, got int) {
	t.Helper()
	if got < c.acked || got > c.sent {
		t.Errorf("%s is at %d; %d was acknowledged, %d sent", what, got, c.acked, c.sent)
	}
	c.acked, c.sent = got, got // whatever it is, it must not go back
}

// victim is a card and what is known of it.
type victim struct {
	t        *testing.T
	dice     *rand.Rand
	dir      string
	scenario string
	state    int // number of its folder

	cmd   *exec.Cmd
	ready struct {
		Endpoints struct{ SNMP, SSH string }
		Label     struct{ User, Password string }
	}
	agent *gosnmp.GoSNMP

	lives                  int
	doom                   func() // has it killed in a moment
	boots, unborn          int    // the last boots that were seen, and starts since then that were not
	location, contact, low counter
	journal                map[int]string
}

func (v *victim) start() io.Reader {
	v.cmd = exec.Command("ridethrough", "serve", v.scenario, "--state", filepath.Join(v.dir, fmt.Sprint("state", v.state)))
	out, err := v.cmd.StdoutPipe()
	if err == nil {
		err = v.cmd.Start()
	}
	if err != nil {
		v.t.Fatal(err)
	}
	return out
}

func (v *victim) kill() {
	v.cmd.Process.Kill()
	v.cmd.Wait()
}

// killUnborn kills a card that may not have been ready yet.
func (v *victim) killUnborn() {
	v.start()
	time.Sleep(time.Duration(v.dice.IntN(120)) * time.Millisecond) // the instant is what the test is about
	v.kill()
	v.unborn++
}

// live starts a card, looks at what it remembers, has it do things until it is
// killed at a random instant.
func (v *victim) live(do func() error) {
	line, err := bufio.NewReader(v.start()).ReadBytes('\n')
	if err == nil {
		err = json.Unmarshal(line, &v.ready)
	}
	if err != nil {
		v.kill()
		v.t.Fatalf("it does not start: %v, %s", err, line)
	}
	v.agent = connect(v.t, v.ready.Endpoints.SNMP)
	defer v.agent.Conn.Close()
	v.remembers()
	v.aim()
	for err == nil {
		err = do()
	}
	v.doom()
	v.cmd.Wait() // for the kill
}

// aim chooses the instant of the kill: every other time from the start on, and else once
// something was acknowledged, however long a busy machine takes for that.
func (v *victim) aim() {
	v.doom = sync.OnceFunc(func() {
		time.AfterFunc(time.Duration(v.dice.IntN(60))*time.Millisecond, func() {
			v.cmd.Process.Kill()
			v.agent.Conn.Close() // nobody will answer any more
		})
	})
	if v.lives++; (v.lives+v.lives/4)%2 == 0 { // of each kind: the kinds go round in four
		v.doom()
	}
}

func (v *victim) remembers() {
	p, err := v.agent.Get([]string{engineBoots, sysLocation, sysContact, lowBattTime})
	if err != nil {
		v.t.Fatal(err)
	}
	boots := int(gosnmp.ToBigInt(p.Variables[0].Value).Int64())
	if boots <= v.boots || boots > v.boots+1+v.unborn {
		v.t.Errorf("boots %d after %d and %d starts that nobody saw", boots, v.boots, v.unborn)
	}
	v.boots, v.unborn = boots, 0
	v.location.check(v.t, "the location", number(p.Variables[1].Value))
	v.contact.check(v.t, "the contact", number(p.Variables[2].Value))
	if got := int(gosnmp.ToBigInt(p.Variables[3].Value).Int64()); v.low.sent > 0 {
		v.low.check(v.t, "the low-battery time", got)
	} else {
		v.low = counter{got, got}
	}
}

// number is the number behind the words of a text, 0 for an empty one.
func number(text any) int {
	_, digits, _ := strings.Cut(string(text.([]byte)), " ")
	n, _ := strconv.Atoi(digits)
	return n
}

// steps are values that the unit takes as they are.
var steps = []int{1, 2, 3, 5, 10, 15, 20, 30, 45, 60}

func (v *victim) setOverSNMP() error {
	v.location.sent++
	pdus := []gosnmp.SnmpPDU{{Name: sysLocation, Type: gosnmp.OctetString, Value: fmt.Sprintf("row %d", v.location.sent)}}
	low := v.low.acked
	for _, s := range steps {
		if s > low && v.dice.IntN(40) == 0 {
			pdus, low = append(pdus, gosnmp.SnmpPDU{Name: lowBattTime, Type: gosnmp.Integer, Value: s}), s
			break
		}
	}
	v.low.sent = low
	answer, err := v.agent.Set(pdus)
	if err != nil {
		return err
	}
	if answer.Error != gosnmp.NoError {
		v.t.Errorf("refused: %v", answer.Error)
		return io.EOF
	}
	v.location.acked, v.low.acked = v.location.sent, low
	v.doom()
	return nil
}

var entryForm = regexp.MustCompile(`(?m)^ +(\d+)  \S+ \S+ +(.*)$`)

// saveOverSSH reads the journal and saves contacts in the menu until it fails.
func (v *victim) saveOverSSH() error {
	client, err := gossh.Dial("tcp", v.ready.Endpoints.SSH, &gossh.ClientConfig{
		User: v.ready.Label.User, Auth: []gossh.AuthMethod{gossh.Password(v.ready.Label.Password)},
		HostKeyCallback: gossh.InsecureIgnoreHostKey(), // the address is our own
	})
	if err != nil {
		if strings.Contains(err.Error(), "unable to authenticate") {
			v.t.Error("the account is gone: ", err)
		}
		return err
	}
	defer client.Close()
	session, err := client.NewSession()
	if err != nil {
		return err
	}
	in, _ := session.StdinPipe()
	out, _ := session.StdoutPipe()
	if err := session.Shell(); err != nil {
		return err
	}
	menu := &dialog{in, bufio.NewReader(out)}
	text, err := menu.say("journal all", "card> ")
	if err != nil {
		return err
	}
	v.readJournal(text)
	for {
		v.contact.sent++
		if _, err := menu.say(fmt.Sprintf("contact\ndesk %d\nsave", v.contact.sent), "Saved."); err != nil {
			return err
		}
		v.contact.acked = v.contact.sent
		v.doom()
	}
}

func (v *victim) readJournal(text string) {
	last := 0
	for _, m := range entryForm.FindAllStringSubmatch(text, -1) {
		seq, _ := strconv.Atoi(m[1])
		if seen := v.journal[seq]; seq <= last || seen != "" && seen != m[2] {
			v.t.Errorf("entry %d after %d is %q, was %q", seq, last, m[2], seen)
		}
		last, v.journal[seq] = seq, m[2]
	}
}

// dialog speaks with the menu.
type dialog struct {
	in  io.Writer
	out *bufio.Reader
}

// say sends lines and reads on to what is awaited behind them.
func (d *dialog) say(lines, awaited string) (string, error) {
	if _, err := fmt.Fprintln(d.in, lines); err != nil {
		return "", err
	}
	var b strings.Builder
	for first := true; ; {
		c, err := d.out.ReadByte()
		if err != nil {
			return b.String(), err
		}
		if b.WriteByte(c); !strings.HasSuffix(b.String(), awaited) {
			continue
		}
		if first && awaited == "card> " { // the prompt that was open
			first = false
			continue
		}
		return b.String(), nil
	}
}

func connect(t *testing.T, address string) *gosnmp.GoSNMP {
	host, port, _ := net.SplitHostPort(address)
	n, _ := strconv.Atoi(port)
	g := &gosnmp.GoSNMP{Target: host, Port: uint16(n), Community: "touch", Version: gosnmp.Version2c, Timeout: 20 * time.Second}
	if err := g.Connect(); err != nil {
		t.Fatal(err)
	}
	return g
}
