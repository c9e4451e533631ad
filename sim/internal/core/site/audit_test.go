package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
)

// TestWhoSetIt: whatever is set over a surface stands in the journal with whoever set
// it and from where, one line for a request, in the journal that it belongs to.
func TestWhoSetIt(t *testing.T) {
	manager := snap.Actor{Surface: "snmp", Peer: "198.51.100.40:161"}
	for name, row := range map[string]struct {
		by   snap.Actor
		sets []snap.Assignment
		kind snap.JournalKind
		want string
	}{
		"the output":   {kim, set(snap.VarShutdownAfter, 60), snap.JournalEvents, "upsShutdownAfterDelay 60 set by kim, operator (ssh from 198.51.100.7)"},
		"the unit":     {manager, set(snap.VarLowBattTime, 7), snap.JournalEvents, "upsConfigLowBattTime 7 set by snmp from 198.51.100.40:161"},
		"two at once":  {manager, append(set(snap.VarAutoRestart, 1), set(snap.VarShutdownAfter, 90)...), snap.JournalEvents, "upsAutoRestart 1, upsShutdownAfterDelay 90 set by snmp"},
		"a test":       {manager, append(set(snap.VarTestSpinLock, 1), set(snap.VarTestID, int64(snap.TestGeneralSystems))...), snap.JournalEvents, "upsTestId general-systems set by snmp"},
		"a name":       {manager, []snap.Assignment{{Var: snap.VarSysName, Text: "rack-7"}}, snap.JournalSystem, "sysName set by snmp from 198.51.100.40:161"},
		"a card's own": {manager, set(snap.VarAuthenTraps, 2), snap.JournalSystem, "snmpEnableAuthenTraps 2 set by snmp"},
	} {
		t.Run(name, func(t *testing.T) {
			r := playtest.Start(t, switched).To(min)
			before := len(r.Site.Card.Journal)
			if got := r.Do(snap.Command{Op: snap.OpSet, By: row.by, Sets: row.sets}); got.Status != snap.Done {
				t.Fatal(got)
			}
			entries := r.Site.Card.Journal
			if len(entries) == before || entries[before].Kind != row.kind || !strings.HasPrefix(entries[before].Text, row.want) {
				t.Errorf("journal: %+v", entries[before:])
			}
			if row.kind == snap.JournalSystem && strings.Contains(entries[before].Text, "rack-7") {
				t.Error("the journal has what the name was set to")
			}
		})
	}
}

// TestWhoRestarted: so does a restart that somebody asked for; what was refused, and
// a spin lock alone, are no change.
func TestWhoRestarted(t *testing.T) {
	r := playtest.Start(t, switched).To(min)
	r.Do(snap.Command{Op: snap.OpSet, By: kim, Sets: set(snap.VarShutdownAfter, -7)})
	r.Do(snap.Command{Op: snap.OpSet, By: snap.Actor{Surface: "snmp"}, Sets: set(snap.VarTestSpinLock, 1)})
	if journal(r, "set by") {
		t.Errorf("%+v", r.Site.Card.Journal)
	}
	r.Do(snap.Command{Op: snap.OpRestart, By: snap.Actor{Surface: "serial", User: "anna", Role: snap.Administrator}})
	if !journal(r, "restart ordered by anna, administrator (serial)") {
		t.Errorf("%+v", r.Site.Card.Journal)
	}
}

func set(name snap.Var, value int64) []snap.Assignment {
	return []snap.Assignment{{Var: name, Int: value}}
}
