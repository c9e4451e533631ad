package site_test

import (
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// groups are a plain one, one that comes on late, and one that is shed 30 s
// after a shutdown countdown was started.
const groups = `
title = "groups"
run_for = "24h"
[card]
address = "192.0.2.10/24"
[[group]]
name = "plain"
[[group]]
name = "late"
on_delay = "10s"
[[group]]
name = "shed"
on_delay = "20s"
off_delay = "30s"
[[host]]
name = "a"
group = "shed"
draw_w = 100
`

func expectGroups(t *testing.T, r *playtest.Run, want string) {
	t.Helper()
	got := ""
	for _, g := range r.Site.Groups {
		got += snap.Either(g.On, "1", "0")
	}
	if got != want {
		t.Errorf("at %v: groups %s, want %s", r.Engine.Now(), got, want)
	}
}

// TestGroups: order of off and on (row 46 of the needs: +-1 s; here to the tick).
func TestGroups(t *testing.T) {
	r := playtest.Start(t, groups)
	expectGroups(t, r, "111")
	r.To(min).Write(snap.VarShutdownAfter, 60)
	for _, row := range []struct {
		at   vtime.Tick
		want string
	}{{30*sec - ms, "111"}, {30 * sec, "110"}, {60*sec - ms, "110"}, {60 * sec, "000"}, {5 * min, "000"}} {
		expectGroups(t, r.To(min+row.at), row.want)
	}
	if h := host(t, r, "a"); h.Cuts != 1 || h.Since != min+30*sec {
		t.Errorf("the host behind the shed group: %+v", h)
	}
	r.To(10*min).Write(snap.VarStartupAfter, 0)
	for _, row := range []struct {
		at   vtime.Tick
		want string
	}{{0, "100"}, {10*sec - ms, "100"}, {10 * sec, "110"}, {20*sec - ms, "110"}, {20 * sec, "111"}} {
		expectGroups(t, r.To(10*min+row.at), row.want)
	}
}

// TestShedAndCancelled: a countdown that is aborted gives the outlets back.
func TestShedAndCancelled(t *testing.T) {
	r := playtest.Start(t, groups).Write(snap.VarShutdownAfter, 300).To(min)
	expectGroups(t, r, "110")
	r.Write(snap.VarShutdownAfter, -1)
	expectGroups(t, r.To(min+20*sec-ms), "110")
	expectGroups(t, r.To(min+20*sec), "111")

	r = playtest.Start(t, groups).Write(snap.VarShutdownAfter, 300).To(29*sec).Write(snap.VarShutdownAfter, -1).To(min)
	if r.Count("group shed") != 0 {
		t.Error("shed although aborted before")
	}
}

// TestOffBeforeOn: the output goes before a late group has come on.
func TestOffBeforeOn(t *testing.T) {
	r := playtest.Start(t, groups).Write(snap.VarReboot, 5).To(10 * sec).Inject(`output = "off"`).To(min)
	expectGroups(t, r, "000")
	if n := r.Count("group late: on"); n != 0 {
		t.Errorf("came on %d times", n)
	}
}
