package card

import (
	"encoding/json"
	"math"
	"net/netip"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

var date = time.Date(2026, 3, 2, 7, 55, 0, 0, time.UTC)

func config(m *snap.Memory) *plan.Card {
	return &plan.Card{
		Identity: snap.Identity{SerialNumber: "RT0001"},
		Settings: snap.Settings{
			Name: "from the scenario", Mode: snap.AddressFixed, Fixed: netip.MustParsePrefix("192.0.2.10/24"),
			ReadCommunity: snap.NewSecret("look"), WriteCommunity: snap.NewSecret("touch"),
		},
		Memory: m, CardMake: &plan.CardMake{BootTakes: 75 * vtime.Second, User: "technician"},
	}
}

// unheard is a note that goes nowhere.
func unheard(snap.What, string, string) {}

// waking is a card with that memory that has just started, and what it keeps.
func waking(t *testing.T, m *snap.Memory) (*Card, *snap.Keep) {
	t.Helper()
	if err := CheckMemory(m, "RT0001"); err != nil {
		t.Fatal(err)
	}
	c := New(config(m), &plan.Network{}, 1, date, unheard)
	c.Start()
	return c, c.Keep()
}

// lay puts k into m as a host does.
func lay(m *snap.Memory, k *snap.Keep) *snap.Memory {
	if m.Sections == nil {
		m.Sections = map[string]json.RawMessage{}
	}
	if m.Logs == nil {
		m.Logs = map[string][]snap.LogEntry{}
	}
	if k == nil {
		return m
	}
	for name, value := range k.Sections {
		if m.Sections[name] = value; value == nil {
			delete(m.Sections, name)
		}
	}
	for _, l := range k.Logs {
		var kept []snap.LogEntry
		for _, e := range append(m.Logs[l.Name], l.Entries...) {
			if e.Seq >= l.From {
				kept = append(kept, e)
			}
		}
		m.Logs[l.Name] = kept
	}
	return m
}

// TestEveryFieldIsASection: what [Memory] gains is not forgotten in the table.
func TestEveryFieldIsASection(t *testing.T) {
	var m Memory
	v := reflect.ValueOf(&m).Elem()
	names := map[string]bool{}
	for i := range sections {
		names[sections[i].name] = true
	}
	if len(names) != len(sections) || len(sections) > 64 {
		t.Errorf("%d names of %d sections", len(names), len(sections))
	}
	for i := range v.NumField() {
		found := 0
		for j := range sections {
			if sections[j].at(&m) == v.Field(i).Addr().Interface() {
				found++
			}
		}
		if found != 1 {
			t.Errorf("%d sections hold %s", found, v.Type().Field(i).Name)
		}
	}
}

// TestCardWakesAsItWas: what was changed in one life is there in the next,
// whatever the scenario says, and the boots are one more.
func TestCardWakesAsItWas(t *testing.T) {
	m := &snap.Memory{}
	c, k := waking(t, m)
	if len(k.Sections) != len(sections) {
		t.Errorf("a new card keeps %d sections of %d", len(k.Sections), len(sections))
	}
	lay(m, k)
	if k := c.Keep(); k != nil {
		t.Errorf("nothing happened, and it keeps %+v", k)
	}
	by := snap.Actor{Surface: "serial", User: "technician"}
	s := *c.kept.Settings.Clone()
	s.Contact, s.Mode, s.ReadCommunity = "desk", snap.AddressDHCP, snap.NewSecret("peek")
	c.Save(10, by, *s.Clone(), 0)
	c.Apply(snap.Assignment{Var: snap.VarSysName, Text: "rack 7"})
	c.Apply(snap.Assignment{Var: snap.VarAuthenTraps, Int: 2})
	c.KeepUnitSet(snap.Assignment{Var: snap.VarLowBattTime, Int: 5})
	c.KeepUnitSet(snap.Assignment{Var: snap.VarLowBattTime, Int: 10})
	lay(m, c.Keep())
	for life := uint32(2); life < 5; life++ {
		c, k = waking(t, m)
		if !cmp.Equal(k.Sections, map[string]json.RawMessage{"boots": encode(life)}) {
			t.Errorf("life %d begins with %s", life, k.Sections)
		}
		lay(m, k)
		var d snap.Device
		c.View(&d)
		want := s
		want.Name = "rack 7"
		if !d.Card.Settings.Same(&want) || !d.Card.Saved.Same(&want) || d.Card.AuthenTraps || d.Card.Boots != life {
			t.Errorf("life %d has %+v", life, d.Card)
		}
		if !d.Card.SignIn("technician", Password(1, "RT0001")) {
			t.Error("the account is gone")
		}
		if !cmp.Equal(c.UnitSets(), []snap.Assignment{{Var: snap.VarLowBattTime, Int: 10}}) {
			t.Errorf("the unit has kept %v", c.UnitSets())
		}
	}
}

// TestJournalGoesOn: entries keep their number, date and text; after a life that
// was cut off no number comes again, and the journal says so.
func TestJournalGoesOn(t *testing.T) {
	m := &snap.Memory{}
	c, k := waking(t, m)
	lay(m, k)
	for i := range 1000 {
		c.SignIn(vtime.Tick(i)*vtime.Hour, snap.Command{By: snap.Actor{Surface: "ssh"}})
		if i%7 == 0 {
			lay(m, c.Keep())
		}
	}
	lay(m, c.Keep())
	before := append([]snap.JournalEntry(nil), c.journal.entries...)
	for i := range before {
		before[i].Tick = 0 // was of another session
	}
	again, k := waking(t, m)
	if diff := cmp.Diff(before, again.journal.entries[:len(before)]); diff != "" {
		t.Errorf("(-before +after):\n%s", diff)
	}
	if next := again.journal.entries[len(before)]; next.Seq != before[len(before)-1].Seq+1 || next.Text != "card started" {
		t.Errorf("then comes %+v", next)
	}
	lay(m, k).Cut = true
	last := again.journal.seq
	again.SignIn(5, snap.Command{By: snap.Actor{Surface: "ssh"}}) // somebody saw it, and it was never written
	cut, k := waking(t, m)
	entries := cut.journal.entries
	mark := entries[len(entries)-2]
	if mark.Seq != last+snap.MostLost+1 || !strings.Contains(mark.Text, "may be missing") {
		t.Errorf("after a cut: %+v", mark)
	}
	if len(k.Logs) != 1 || k.Logs[0].Entries[0].Seq != uint64(mark.Seq) {
		t.Errorf("it keeps %+v", k.Logs)
	}
}

// TestBootsAreRaisedBeforeTheCardAnswers, and stay at their maximum (RFC 3414
// section 2.2).
func TestBootsAreRaisedBeforeTheCardAnswers(t *testing.T) {
	c, _ := waking(t, &snap.Memory{})
	c.Restart(10)
	if k := c.Keep(); string(k.Sections["boots"]) != "2" || c.boots != 1 {
		t.Errorf("booting, it keeps %s and shows %d", k.Sections["boots"], c.boots)
	}
	c.Power(20, false) // before it has booted
	c.Power(30, true)
	c.Due(30+75*vtime.Second, State{}, func(snap.Notification) {})
	if k := c.Keep(); string(k.Sections["boots"]) != "2" || c.boots != 2 {
		t.Errorf("it keeps %s and shows %d", k.Sections["boots"], c.boots)
	}
	m := &snap.Memory{Sections: map[string]json.RawMessage{"boots": encode(math.MaxInt32 - 1)}}
	for range 3 {
		c, k := waking(t, m)
		lay(m, k)
		if c.boots != math.MaxInt32 {
			t.Errorf("boots %d", c.boots)
		}
	}
}

// TestForeignMemory: what is not this card's, or not what this program writes,
// is one line.
func TestForeignMemory(t *testing.T) {
	for name, c := range map[string]struct{ section, value, says string }{
		"other card": {"serial-number", `"RT0002"`, `serial number "RT0002"`},
		"garbage":    {"settings", `{"Name":`, "section settings"},
		"newer":      {"settings", `{"settings":{"Colour":"red"}}`, "Colour"},
		"two values": {"boots", `1 2`, "more than one value"},
		"negative":   {"boots", `-1`, "section boots"},
		"too many":   {"boots", `4294967295`, "at most"},
		"no secret":  {"settings", `{"settings":{},"secrets":{"access.no-such":"a"}}`, "section settings: access.no-such"},
		"empty":      {"settings", `{"settings":null}`, "no settings"},
	} {
		m := &snap.Memory{Sections: map[string]json.RawMessage{c.section: json.RawMessage(c.value)}}
		err := CheckMemory(m, "RT0001")
		if err == nil || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, log := range [][]snap.LogEntry{
		{{Seq: 2, Value: encode(stored{})}, {Seq: 2, Value: encode(stored{})}}, {{Seq: 1 << 32, Value: encode(stored{})}}, {{Seq: 1, Value: encode(3)}},
	} {
		if err := CheckMemory(&snap.Memory{Logs: map[string][]snap.LogEntry{"events": log}}, "RT0001"); err == nil {
			t.Errorf("%v passes", log)
		}
	}
}

// TestRedacted: enough to repeat a session, and no account's verifier in it.
func TestRedacted(t *testing.T) {
	m := &snap.Memory{}
	c, k := waking(t, m)
	lay(m, k).Sections[HostKeySection] = encode([]byte("a private key"))
	hidden := Redact(m, func(s *snap.Settings) {})
	text, _ := json.Marshal(hidden)
	kept := func(m *snap.Memory) []snap.Account {
		k := Memory{Settings: new(snap.Settings)}
		if _, err := k.decode(m); err != nil {
			t.Fatal(err)
		}
		return k.Accounts
	}
	if a := kept(m)[0]; len(a.Verifier) == 0 || len(kept(hidden)[0].Verifier) != 0 {
		t.Errorf("kept as %+v", a)
	}
	for name, secret := range map[string]any{"verifier": kept(m)[0].Verifier, "salt": c.kept.Accounts[0].Salt, "key": []byte("a private key")} {
		if bare := strings.Trim(string(encode(secret)), `"`); strings.Contains(string(text), bare) {
			t.Errorf("the %s shows in %s", name, text)
		}
	}
	again, _ := waking(t, hidden)
	c, _ = waking(t, m)
	blind := *c.kept.Settings.Clone() // of a secret only that there is one
	blind.ReadCommunity, blind.WriteCommunity = snap.NewSecret("(secret)"), snap.NewSecret("(secret)")
	if !again.kept.Settings.Same(&blind) || again.boots != c.boots || !cmp.Equal(again.journal.entries, c.journal.entries) {
		t.Error("another card wakes from it")
	}
}

// TestNobodyKeeps: without a host that keeps anything nothing is put together.
func TestNobodyKeeps(t *testing.T) {
	c := New(config(nil), &plan.Network{}, 1, date, unheard)
	c.Start()
	c.SignIn(1, snap.Command{})
	if k := c.Keep(); k != nil {
		t.Errorf("%+v", k)
	}
}

// TestReset: every level takes out what it names and leaves the rest; identity,
// boots and the numbers of the journal stay.
func TestReset(t *testing.T) {
	for _, level := range []Level{ResetSettings, ResetAccounts, ResetAll} {
		m := &snap.Memory{}
		c, k := waking(t, m)
		lay(m, k).Sections[HostKeySection] = encode([]byte("key"))
		s := *c.kept.Settings
		s.Contact = "desk"
		c.Save(1, snap.Actor{}, s, 0)
		c.kept.Accounts = []snap.Account{snap.NewAccount("other", snap.Viewer, "word", []byte("salt"))}
		c.changed(&c.kept.Accounts)
		c.KeepUnitSet(snap.Assignment{Var: snap.VarLowBattTime, Int: 5})
		lay(m, c.Keep())
		seq, entries := c.journal.seq, len(c.journal.entries)
		c.Reset(2, snap.Actor{Surface: "serial", User: "other"}, level)
		if c.Running() {
			t.Errorf("%v: it does not restart", level)
		}
		lay(m, c.Keep())
		c, _ = waking(t, m)
		got := map[string]bool{
			"settings": c.kept.Settings.Same(&config(nil).Settings),
			"accounts": c.kept.Accounts[0].User == "technician",
			"journal":  len(c.journal.entries) < entries+3,
			"key":      m.Sections[HostKeySection] == nil,
			"unit":     len(c.kept.UnitSets) == 0,
			"boots":    c.boots != 3,
			"numbers":  c.journal.seq <= seq,
		}
		want := map[string]bool{"settings": true, "accounts": level >= ResetAccounts, "journal": level == ResetAll, "key": level == ResetAll, "unit": false, "boots": false, "numbers": false}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%v (-want +got):\n%s", level, diff)
		}
		if l, ok := LevelByName(level.String()); !ok || l != level {
			t.Errorf("%v by its name is %v", level, l)
		}
	}
}

// FuzzCheckMemory: whatever a file holds, it is refused or a card wakes from it.
func FuzzCheckMemory(f *testing.F) {
	f.Add(`{"sections":{"boots":3,"settings":{"settings":{"Mode":"dhcp"},"secrets":{"access.read-community":"x"}}},"logs":{"system":[{"seq":1,"value":{"at":1,"text":"x","count":7}}],"data":[{"seq":3,"value":{"at":1,"source":3}}]},"cut":true}`)
	f.Add(`{"sections":{"accounts":[{"User":"a"}],"unit-sets":[{"var":"upsConfigLowBattTime","int":3}]}}`)
	f.Add(`{"sections":{"lease":{"address":"192.0.2.10/24","gateway":"192.0.2.1","until":1780000000000}}}`)
	f.Add(`{"sections":{"settings":{"settings":{"Managers":{"Users":[{"Name":"a","Auth":1,"Priv":2,"AuthFor":1}]}},"keys":{"access.snmp-user.a.auth-password":"n68yg4iE6SgU68mEfY7dlj=="},"secrets":{"access.snmp-user.a.priv-password":"a phrase"}}}}`)
	f.Fuzz(func(t *testing.T, text string) {
		var m snap.Memory
		if json.Unmarshal([]byte(text), &m) != nil || CheckMemory(&m, "RT0001") != nil {
			return
		}
		c := New(config(&m), &plan.Network{}, 1, date, unheard)
		c.Start()
		c.Keep()
		Redact(&m, func(*snap.Settings) {})
		if k := Modern(&m); k != nil && Modern(lay(&m, k)) != nil {
			t.Error("what was brought into today's form is not in it")
		}
	})
}

// TestSaveUndoesNobody: settings that were made from others than the present ones
// are refused, and what was changed meanwhile stays.
func TestSaveUndoesNobody(t *testing.T) {
	c, _ := waking(t, &snap.Memory{})
	var before snap.Device
	c.View(&before)
	mine := before.Card.Saved.Clone()
	mine.Contact = "desk"
	c.Apply(snap.Assignment{Var: snap.VarSysLocation, Text: "row 7"})
	if r := c.Save(2, snap.Actor{}, *mine, before.Card.Revision); r.Status != snap.Inconsistent || c.kept.Settings.Location != "row 7" {
		t.Errorf("%+v, location %q", r, c.kept.Settings.Location)
	}
	var now snap.Device
	c.View(&now)
	mine = now.Card.Saved.Clone()
	mine.Contact = "desk"
	if r := c.Save(3, snap.Actor{}, *mine, now.Card.Revision); r.Status != snap.Done || c.kept.Settings.Location != "row 7" || c.kept.Settings.Contact != "desk" {
		t.Errorf("%+v, %+v", r, c.kept.Settings)
	}
}
