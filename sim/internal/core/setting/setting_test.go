package setting

import (
	"flag"
	"net/netip"
	"os"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/snap"
)

var update = flag.Bool("update", false, "write docs/settings.md anew")

func sample() *snap.Settings {
	s := snap.Settings{
		Name: "card-a", Location: "Room 2", Contact: "desk", UPSName: "ups-a", Attached: "two servers",
		Mode: snap.AddressFixed, Fixed: netip.MustParsePrefix("192.0.2.10/24"), Gateway: netip.MustParseAddr("192.0.2.1"),
		Groups:        []snap.OutletGroup{snap.FreshGroup("rack_a"), snap.FreshGroup("rack_b")},
		ReadCommunity: snap.NewSecret("see-nothing"), WriteCommunity: snap.NewSecret("touch-nothing"),
		Time: snap.DefaultTime(),
	}
	return s.Clone()
}

func TestReference(t *testing.T) {
	const file = "../../../../docs/settings.md"
	if *update {
		if err := os.WriteFile(file, []byte(Reference()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(file)
	if err != nil || string(got) != Reference() {
		t.Errorf("%s differs from the table: -update writes it anew (%v)", file, err)
	}
}

// TestTable: what the menu and the reference rely on.
func TestTable(t *testing.T) {
	seen := map[string]bool{}
	check := func(x *Setting, path string) {
		if seen[path] || !strings.HasPrefix(path, x.Group.String()+".") || strings.ToLower(path) != path {
			t.Errorf("path %q in group %s", path, x.Group)
		}
		seen[path] = true
		if x.Label == "" || !strings.HasSuffix(x.Help, ".") || x.Takes == "" || strings.HasSuffix(x.Takes, ".") {
			t.Errorf("%s: %q, %q, %q", path, x.Label, x.Help, x.Takes)
		}
	}
	for _, x := range All() {
		check(x, x.Path)
	}
	for _, l := range Lists() {
		for _, c := range l.Columns {
			check(c, c.Path)
		}
	}
	if len(All()) < 10 {
		t.Errorf("%d settings", len(All()))
	}
}

// filled has an entry in every list.
func filled(t interface{ Fatal(...any) }) *snap.Settings {
	s := sample()
	for _, l := range Lists() {
		if len(l.Names(s)) == 0 {
			if err := l.Add(s, "one"); err != nil {
				t.Fatal(err)
			}
		}
	}
	return s
}

// TestWhatIsShownIsAccepted: every value can be typed as it is read.
func TestWhatIsShownIsAccepted(t *testing.T) {
	s := filled(t)
	for _, ref := range Every(s) {
		again := s.Clone()
		if err := ref.Set(again, ref.Get(s)); err != nil || !again.Same(s) {
			t.Errorf("%s: %q: %v", ref.Path, ref.Get(s), err)
		}
		if found, err := Find(s, strings.ToUpper(ref.Path)); err != nil || found.Setting != ref.Setting || found.index != ref.index {
			t.Errorf("%s: found %+v, %v", ref.Path, found, err)
		}
	}
}

// TestAnyValue: a value is taken, and reads back as one that is taken again, or it
// is refused with a reason and changes nothing. A secret is not repeated.
func TestAnyValue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := filled(t)
		ref := rapid.SampledFrom(Every(s)).Draw(t, "setting")
		value := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{
			"", "-", "none", "yes", "no", "0", "5", "-1", "10m", "1h30m", "99999999999", "1.5", "NaN", "Inf", "192.0.2.7", "192.0.2.7/24", "fixed", "DHCP",
			strings.Repeat("x", 300),
		})).Draw(t, "value")
		before := s.Clone()
		err := ref.Set(s, value)
		switch {
		case err == nil:
			if again := ref.Set(s, ref.Get(s)); again != nil {
				t.Fatalf("%s: %q reads back as %q: %v", ref.Path, value, ref.Get(s), again)
			}
		case !s.Same(before):
			t.Fatalf("%s: %q was refused and changed something", ref.Path, value)
		case err.Error() == "" || ref.Secret && len(value) > 3 && strings.Contains(err.Error(), value):
			t.Fatalf("%s: %q: %v", ref.Path, value, err)
		}
	})
}

func TestNearMisses(t *testing.T) {
	s := sample()
	for path, want := range map[string]string{
		"reach.gatway": "did you mean reach.gateway?", "reach": "there is no setting", "": "there is no setting", "identity.name.x": "there is no setting",
	} {
		if _, err := Find(s, path); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", path, err)
		}
	}
}

// TestDiff: what changes and nothing else, secrets never in clear.
func TestDiff(t *testing.T) {
	from, to := sample(), sample()
	if d := Diff(from, to); len(d) != 0 {
		t.Errorf("%+v", d)
	}
	to.Contact, to.ReadCommunity, to.WriteCommunity = "night desk", snap.NewSecret("another-one"), snap.Secret{}
	var lines []string
	for _, c := range Diff(from, to) {
		lines = append(lines, c.Path+" "+c.Text())
	}
	got := strings.Join(lines, "\n")
	want := "identity.contact \"desk\" -> \"night desk\"\naccess.read-community (set) -> (another)\naccess.write-community (set) -> (not set)"
	if got != want {
		t.Errorf("got\n%s", got)
	}
}

func TestCheck(t *testing.T) {
	for name, row := range map[string]struct {
		change func(*snap.Settings)
		reason string
	}{
		"as it is":          {func(*snap.Settings) {}, ""},
		"gateway elsewhere": {func(s *snap.Settings) { s.Gateway = netip.MustParseAddr("198.51.100.1") }, "reach.gateway: 198.51.100.1 is outside"},
		"no address":        {func(s *snap.Settings) { s.Fixed = netip.Prefix{} }, "reach.address"},
		"same community":    {func(s *snap.Settings) { s.WriteCommunity = s.ReadCommunity }, "would open write access"},
		"long name":         {func(s *snap.Settings) { s.Name = strings.Repeat("x", 256) }, "identity.name: 256 characters"},
		"broadcast":         {func(s *snap.Settings) { s.Fixed = netip.MustParsePrefix("192.0.2.255/24") }, "reach.address"},
	} {
		to := sample()
		row.change(to)
		err := Check(sample(), to)
		if (err == nil) != (row.reason == "") || err != nil && !strings.Contains(err.Error(), row.reason) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestAtOnce: what needs no restart is taken over, the rest waits.
func TestAtOnce(t *testing.T) {
	now, saved := sample(), sample()
	saved.Name, saved.ReadCommunity = "card-b", snap.NewSecret("other")
	TakeAtOnce(now, saved)
	if now.Name != "card-b" || now.ReadCommunity.Reveal() != "see-nothing" || !Waits(now, saved) {
		t.Errorf("%+v", now)
	}
	saved.ReadCommunity = now.ReadCommunity
	if Waits(now, saved) {
		t.Error("nothing waits")
	}
}

// TestCloneSharesNothing: a slice or a section that two settings share would be
// changed under the eyes of readers.
func TestCloneSharesNothing(t *testing.T) {
	s := filled(t)
	c := s.Clone()
	if !reflect.DeepEqual(s, c) {
		t.Errorf("%+v became %+v", s, c)
	}
	shares(t, "Settings", reflect.ValueOf(s).Elem(), reflect.ValueOf(c).Elem())
}

func shares(t *testing.T, path string, a, b reflect.Value) {
	switch a.Kind() {
	case reflect.Pointer:
		if opaque(a.Type()) || a.IsNil() {
			return
		}
		if a.Pointer() == b.Pointer() {
			t.Errorf("%s is shared", path)
		}
		shares(t, path, a.Elem(), b.Elem())
	case reflect.Slice:
		if a.Len() == 0 {
			return
		}
		if a.Pointer() == b.Pointer() {
			t.Errorf("%s is shared", path)
		}
		for i := range a.Len() {
			shares(t, path+"[]", a.Index(i), b.Index(i))
		}
	case reflect.Struct:
		if opaque(a.Type()) {
			return
		}
		for i := range a.NumField() {
			shares(t, path+"."+a.Type().Field(i).Name, a.Field(i), b.Field(i))
		}
	case reflect.Map:
		t.Errorf("%s is a map: its order could be seen", path)
	}
}

// opaque are types whose values never change.
func opaque(t reflect.Type) bool {
	return t.PkgPath() == "net/netip" || t == reflect.TypeFor[snap.Secret]() || t.PkgPath() == "time"
}

// TestServerNames: a mistyped address is not taken for a name, which nobody would find.
func TestServerNames(t *testing.T) {
	s := filled(t)
	long := strings.Repeat("a", 64)
	for path, cases := range map[string]map[string]bool{
		"alerts.mail.server": {
			"": true, "relay": true, "relay.example": true, "3com.example": true, "198.51.100.25": true, "2001:db8::25": true,
			"198.51.100.300": false, "198.51.100": false, "25": false, "99999999999999999999999": false, "none": false, "None": false,
			"0.0.0.0": false, "255.255.255.255": false, "224.0.0.1": false, "fe80::1%eth0": false, "::": false,
			"relay_1.example": false, long + ".example": false, long[1:] + ".example": true,
		},
		"alerts.mail.from": {"desk@site.example": true, "desk@198.51.100.300": false, "desk@" + long + ".example": false},
		"reach.dns-1":      {"198.51.100.53": true, "255.255.255.255": false, "0.0.0.0": false},
	} {
		for value, fits := range cases {
			ref, err := Find(s, path)
			if err != nil {
				t.Fatal(err)
			}
			if err := ref.Set(s.Clone(), value); (err == nil) != fits {
				t.Errorf("%s %q: %v", path, value, err)
			}
		}
	}
}
