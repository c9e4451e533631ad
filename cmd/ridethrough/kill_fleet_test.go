package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"
)

const killedFleet = `
title = "killed"
seed = 5
run_for = "24h"
[fleet]
count = 300
[card]
read_community = "touch"
boot_takes = "0s"
`

// restarting has half of the cards restart every two seconds for some minutes.
func restarting() (text string) {
	text = killedFleet
	for at := 2; at <= 1200; at += 2 {
		text += fmt.Sprintf("[[at]]\ntime = \"%ds\"\ndevices = \"1-150\"\ncard = \"restart\"\n", at)
	}
	return text
}

// TestKilledFleet kills a fleet at random instants, every other time after restarts were seen, whose cards restart all the time.
// A number of starts that anybody has heard is never told for an earlier one: in
// every session all have more than before.
func TestKilledFleet(t *testing.T) {
	dir, dice := t.TempDir(), rand.New(rand.NewPCG(9, 0))
	scenario := filepath.Join(dir, "fleet.toml")
	if err := os.WriteFile(scenario, []byte(restarting()), 0o600); err != nil {
		t.Fatal(err)
	}
	heard, restarts := map[int]int64{}, 0
	for round := range kills() / 20 {
		f := startKilled(t, scenario, filepath.Join(dir, "state"))
		doom := sync.OnceFunc(func() {
			time.AfterFunc(time.Duration(30+dice.IntN(120))*time.Millisecond, func() { f.cmd.Process.Kill() })
		})
		first, until, before := map[int]bool{}, time.Now().Add(20*time.Second), restarts
		for {
			if round%2 == 0 || restarts > before+2 || time.Now().After(until) { // at once, or when some were seen
				doom()
			}
			n := 1 + dice.IntN(12)*25
			boots, err := f.boots(n)
			if err != nil {
				break // it was killed
			}
			switch {
			case boots < heard[n] || boots == heard[n] && !first[n]:
				t.Errorf("device %d has %d boots, had %d in a session before", n, boots, heard[n])
			case first[n] && boots > heard[n]:
				restarts++
			}
			heard[n], first[n] = boots, true
		}
		f.cmd.Process.Kill()
		f.cmd.Wait()
		if t.Failed() {
			return
		}
	}
	t.Logf("%d restarts seen, boots %v", restarts, heard)
	if restarts < kills()/20 {
		t.Error("too little was seen to prove anything")
	}
}

type killedFleetRun struct {
	t       *testing.T
	cmd     *exec.Cmd
	Devices []struct{ Endpoints struct{ SNMP string } }
}

func startKilled(t *testing.T, scenario, state string) *killedFleetRun {
	t.Helper()
	f := &killedFleetRun{t: t, cmd: exec.Command("ridethrough", "serve", "--quiet", "--speed", "600", "--state", state, scenario)}
	out, err := f.cmd.StdoutPipe()
	if err == nil {
		err = f.cmd.Start()
	}
	var line []byte
	if err == nil {
		line, err = bufio.NewReader(out).ReadBytes('\n')
	}
	if err == nil {
		err = json.Unmarshal(line, f)
	}
	if err != nil {
		f.cmd.Process.Kill()
		t.Fatal(fmt.Errorf("it does not start: %w", err))
	}
	return f
}

// boots asks device n for snmpEngineBoots.
func (f *killedFleetRun) boots(n int) (int64, error) {
	agent := connect(f.t, f.Devices[n-1].Endpoints.SNMP)
	defer agent.Conn.Close()
	agent.Timeout = 500 * time.Millisecond
	p, err := agent.Get([]string{engineBoots})
	if err != nil {
		return 0, err
	}
	return gosnmp.ToBigInt(p.Variables[0].Value).Int64(), nil
}
