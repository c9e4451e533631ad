package site_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const (
	ms  = vtime.Millisecond
	sec = vtime.Second
	min = vtime.Minute
)

// head is a site of which the hosts are still missing.
const head = `
title = "site"
run_for = "24h"
[card]
address = "192.0.2.10/24"
`

// one is a host that stops in 90 s and boots in 2 min.
const one = `
[[host]]
name = "db"
draw_w = 400
idle_w = 4
stop_takes = "90s"
boot_takes = "2m"
`

const (
	lost   = `source = "lost"`
	normal = `source = "normal"`
	stopDB = "host = \"db\"\norder = \"stop\""
)

func host(t *testing.T, r *playtest.Run, name string) snap.Host {
	t.Helper()
	for _, h := range r.Site.Hosts {
		if h.Name == name {
			return h
		}
	}
	t.Fatalf("no host %q", name)
	return snap.Host{}
}

// states are the states of the hosts in their order.
func states(r *playtest.Run) string {
	var words []string
	for _, h := range r.Site.Hosts {
		words = append(words, h.State.String())
	}
	return strings.Join(words, " ")
}

func expectStates(t *testing.T, r *playtest.Run, want string) {
	t.Helper()
	if got := states(r); got != want {
		t.Errorf("at %v: %s, want %s", r.Engine.Now(), got, want)
	}
}

// TestLifeOfAHost goes through every state, and back.
func TestLifeOfAHost(t *testing.T) {
	r := playtest.Start(t, head+one)
	want := snap.Host{Name: "db", State: snap.HostRunning, Powered: true, DrawW: 400}
	see := func() {
		t.Helper()
		if diff := cmp.Diff(want, host(t, r, "db")); diff != "" {
			t.Fatalf("at %v (-want +got):\n%s", r.Engine.Now(), diff)
		}
	}
	see()
	r.To(min).Inject(stopDB)
	want.State, want.Since = snap.HostStopping, min
	see()
	r.To(min + 30*sec).Inject(stopDB) // told twice
	see()
	r.To(min + 90*sec - ms)
	see()
	r.To(min + 90*sec)
	want.State, want.Since, want.Ended, want.Stops, want.DrawW = snap.HostStopped, min+90*sec, "clean", 1, 4
	see()
	r.To(3 * min).Inject(`output = "off"`)
	want.State, want.Since, want.Powered, want.DrawW = snap.HostOff, 3*min, false, 0
	see()
	r.To(4 * min).Inject(`output = "on"`)
	want.State, want.Since, want.Powered, want.DrawW = snap.HostBooting, 4*min, true, 400
	see()
	r.To(6 * min)
	want.State, want.Since, want.Starts = snap.HostRunning, 6*min, 1
	see()
	r.To(7 * min).Inject(`output = "off"`)
	want.State, want.Since, want.Powered, want.DrawW, want.Ended, want.Cuts = snap.HostCut, 7*min, false, 0, "cut", 1
	see()
}

// TestCutWhileOnItsWay: a loss of power while booting or stopping is a cut too.
func TestCutWhileOnItsWay(t *testing.T) {
	r := playtest.Start(t, head+one).Inject(stopDB).To(30 * sec).Inject(`output = "off"`)
	if h := host(t, r, "db"); h.State != snap.HostCut || h.Ended != "cut" || h.Stops != 0 {
		t.Errorf("while stopping: %+v", h)
	}
	r.To(min).Inject(`output = "on"`).To(2 * min).Inject(`output = "off"`)
	if h := host(t, r, "db"); h.State != snap.HostCut || h.Cuts != 2 || h.Starts != 0 {
		t.Errorf("while booting: %+v", h)
	}
}

// TestRestartRules: what a host does when its outlet comes back (incident 7).
func TestRestartRules(t *testing.T) {
	for _, row := range []struct {
		rule    string
		stopped bool
		want    snap.HostState
	}{
		{"on", true, snap.HostRunning}, {"on", false, snap.HostRunning},
		{"last", true, snap.HostOff}, {"last", false, snap.HostRunning},
		{"off", true, snap.HostOff}, {"off", false, snap.HostOff},
	} {
		r := playtest.Start(t, head+one+"restart = \""+row.rule+"\"\n")
		if row.stopped {
			r.Inject(stopDB)
		}
		r.To(2 * min).Inject(`output = "off"`).To(3 * min).Inject(`output = "on"`).To(6 * min)
		if h := host(t, r, "db"); h.State != row.want || !h.Powered {
			t.Errorf("restart %s, stopped %v: %v", row.rule, row.stopped, h.State)
		}
	}
}

// TestToldWhileBooting: it obeys once it runs.
func TestToldWhileBooting(t *testing.T) {
	r := playtest.Start(t, head+one).Inject(`output = "off"`).To(min).Inject(`output = "on"`).To(2 * min).Inject(stopDB)
	expectStates(t, r, "booting")
	r.To(3 * min)
	expectStates(t, r, "stopping")
	r.To(3*min + 90*sec)
	expectStates(t, r, "stopped")
}

// TestHang: it never finishes; mended, it does. Its power ends it anyway.
func TestHang(t *testing.T) {
	r := playtest.Start(t, head+one+"hangs = true\n").Inject(stopDB).To(vtime.Hour)
	expectStates(t, r, "stopping")
	r.Inject("host = \"db\"\nhangs = false")
	expectStates(t, r, "stopped")

	r = playtest.Start(t, head+one).Inject("host = \"db\"\nhangs = true\nstop_takes = \"5s\"").Inject(stopDB).To(min).Inject(`output = "off"`)
	expectStates(t, r, "cut")
}

// TestStopTakes: the changed time counts for the next stop.
func TestStopTakes(t *testing.T) {
	r := playtest.Start(t, head+one).Inject("host = \"db\"\nstop_takes = \"5s\"").Inject(stopDB).To(5 * sec)
	expectStates(t, r, "stopped")
}

// chain is a machine that needs storage that needs the network.
const chain = `
[[host]]
name = "net"
draw_w = 50
stop_takes = "10s"
boot_takes = "30s"
[[host]]
name = "storage"
draw_w = 300
stop_takes = "1m"
boot_takes = "2m"
needs = ["net"]
[[host]]
name = "vm"
draw_w = 400
stop_takes = "90s"
boot_takes = "1m"
needs = ["storage"]
`

// TestNeedsAtBoot: nobody comes up before what it needs (incident 8).
func TestNeedsAtBoot(t *testing.T) {
	r := playtest.Start(t, head+chain).Inject(`output = "off"`).To(min).Inject(`output = "on"`)
	for at, want := range map[vtime.Tick]string{
		30*sec - ms: "booting booting booting", 30 * sec: "running booting booting",
		2*min - ms: "running booting booting", 2 * min: "running running running",
	} {
		again := playtest.Start(t, head+chain).Inject(`output = "off"`).To(min).Inject(`output = "on"`)
		expectStates(t, again.To(min+at), want)
	}
	if r.To(min*4).Count("waits for what it needs") != 1 {
		t.Error("the machine did not say what it waited for")
	}
}

// TestNeedsAtStop: stopped all at once, what needs something that is gone hangs
// until that is back (incident 5); one that is still on its way down serves.
func TestNeedsAtStop(t *testing.T) {
	stopAll := func(r *playtest.Run) *playtest.Run {
		for _, name := range []string{"net", "storage", "vm"} {
			r.Inject("host = \"" + name + "\"\norder = \"stop\"")
		}
		return r
	}
	r := stopAll(playtest.Start(t, head+chain)).To(vtime.Hour)
	expectStates(t, r, "stopped stopping stopped") // storage lost its network, but still serves

	alone := strings.Replace(head+chain, `needs = ["net"]`, "", 1)
	expectStates(t, stopAll(playtest.Start(t, alone)).To(vtime.Hour), "stopped stopped stopping")

	slow := strings.NewReplacer(`stop_takes = "10s"`, `stop_takes = "3m"`, `stop_takes = "1m"`, `stop_takes = "2m"`).Replace(head + chain)
	expectStates(t, stopAll(playtest.Start(t, slow)).To(4*min), "stopped stopped stopped")

	same := strings.NewReplacer(`stop_takes = "10s"`, `stop_takes = "90s"`, `stop_takes = "1m"`, `stop_takes = "90s"`).Replace(head + chain)
	expectStates(t, stopAll(playtest.Start(t, same)).To(90*sec), "stopped stopped stopped") // all at one tick
}

// TestNeedComesBack: a stop that hung goes on when what it needs is back.
func TestNeedComesBack(t *testing.T) {
	src := strings.Replace(head+chain, "[card]", "[[group]]\nname = \"a\"\n[[group]]\nname = \"b\"\noff_delay = \"0s\"\n[card]", 1)
	src = strings.NewReplacer("name = \"net\"", "name = \"net\"\ngroup = \"a\"", "name = \"storage\"", "name = \"storage\"\ngroup = \"b\"",
		"name = \"vm\"", "name = \"vm\"\ngroup = \"a\"").Replace(src)
	r := playtest.Start(t, src).Write(snap.VarShutdownAfter, 3600).Inject("host = \"vm\"\norder = \"stop\"").To(5 * min)
	expectStates(t, r, "running cut stopping")
	r.Write(snap.VarShutdownAfter, -1).To(7*min - ms)
	expectStates(t, r, "running booting stopping")
	r.To(7 * min)
	expectStates(t, r, "running running stopped")
}

// process is a host that is played by a real process.
const process = `
[[host]]
name = "real"
draw_w = 100
boot_takes = "10s"
process = ["program"]
`

// TestProcess: a real process is started and killed with its outlet; it is never
// told to stop but may end by itself.
func TestProcess(t *testing.T) {
	spawn, kill := snap.Effect{Kind: snap.EffectSpawn, Host: "real"}, snap.Effect{Kind: snap.EffectKill, Host: "real"}
	again := snap.Effect{Kind: snap.EffectSpawn, Host: "real", Run: 1}
	ended := snap.Command{Op: snap.OpProcEnded, Host: "real", Code: 3}
	r := playtest.Start(t, head+process)
	check := func(when, want string, effects ...snap.Effect) {
		t.Helper()
		if diff := cmp.Diff(effects, r.Procs); diff != "" || states(r) != want {
			t.Errorf("%s: %s, want %s (-want +got):\n%s", when, states(r), want, diff)
		}
	}
	check("at the start", "running", spawn)
	r.To(sec).Inject("host = \"real\"\norder = \"stop\"").To(vtime.Hour)
	check("told", "running", spawn)
	r.Inject(`output = "off"`)
	check("cut", "cut", spawn, kill)
	r.Do(ended)
	check("its end is heard of late", "cut", spawn, kill)
	if h := host(t, r, "real"); h.Ended != "cut" || h.Stops != 0 {
		t.Errorf("%+v", h)
	}
	r.To(vtime.Hour + min).Inject(`output = "on"`).To(vtime.Hour + min + 5*sec).Inject(`output = "off"`)
	check("cut before it was started", "cut", spawn, kill)
	r.To(vtime.Hour + 2*min).Inject(`output = "on"`).To(vtime.Hour + 3*min)
	check("started again", "running", spawn, kill, again)
	r.Do(ended)
	check("word of the first run comes too late", "running", spawn, kill, again)
	ended.Run = 1
	r.Do(ended)
	check("ended by itself", "stopped", spawn, kill, again)
	r.Inject(`output = "off"`)
	check("off afterwards", "off", spawn, kill, again)
	if h := host(t, r, "real"); h.Ended != "clean" || h.Stops != 1 || h.Cuts != 2 {
		t.Errorf("%+v", h)
	}
}

// TestUnknownProcess: reports about hosts that are none are refused.
func TestUnknownProcess(t *testing.T) {
	r := playtest.Start(t, head+one+process)
	before := len(r.Trace())
	for _, op := range []snap.Op{snap.OpProcEnded} {
		for _, name := range []string{"", "db", "x\nhost real: started"} {
			if res := r.Do(snap.Command{Op: op, Host: name}); res.Status != snap.WrongValue {
				t.Errorf("%s %q: %+v", op, name, res)
			}
		}
	}
	if len(r.Trace()) != before {
		t.Error("they left a trace")
	}
}

// TestBadCommands: what cannot be carried out is refused, whatever comes in.
func TestBadCommands(t *testing.T) {
	r := playtest.Start(t, head+one)
	for _, c := range []snap.Command{
		{}, {Op: "launch"}, {Op: snap.OpSave}, {Op: snap.OpInject, Text: "time = \"5s\""}, {Op: snap.OpInject},
		{Op: snap.OpSet, Sets: []snap.Assignment{{}}},
	} {
		if res := r.Do(c); res.Status == snap.Done || res.Reason == "" {
			t.Errorf("%+v: %+v", c, res)
		}
	}
	if res := r.Do(snap.Command{Op: snap.OpSet}); res.Status != snap.Done {
		t.Errorf("nothing to set: %+v", res)
	}
}
