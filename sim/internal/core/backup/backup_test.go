package backup

import (
	"errors"
	"net/netip"
	"strings"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	_ "ridethrough/sim/internal/drawn"
)

func settings() *snap.Settings {
	return &snap.Settings{
		Name: "ups-a", Location: `row "7"`, Contact: "desk", UPSName: "unit a", Attached: "db, mail",
		Mode: snap.AddressFixed, Fixed: netip.MustParsePrefix("192.0.2.10/24"), Gateway: netip.MustParseAddr("192.0.2.1"),
		ReadCommunity: snap.NewSecret("look-word"), WriteCommunity: snap.NewSecret("touch-word"),
	}
}

// take lays text over s as the card with serial does.
func take(t testing.TB, text, serial string, s *snap.Settings) (*snap.Settings, []string) {
	t.Helper()
	f, err := Read("f.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	edits, left, err := f.Edits(s, serial)
	if err != nil {
		t.Fatal(err)
	}
	to := s.Clone()
	if err := Apply(edits, to); err != nil {
		t.Fatal(err)
	}
	return to, left
}

// TestRulesStayReadable: what people read and compare has < and > as they are.
func TestRulesStayReadable(t *testing.T) {
	s := settings()
	s.Location, s.Contact = "row <7> & 8", `a "b" \ c`
	text := Export("RT0001", s)
	for _, line := range []string{`location = "row <7> & 8"`, `contact = "a \"b\" \\ c"`} {
		if !strings.Contains(text, line+"\n") {
			t.Errorf("no line %s in\n%s", line, text)
		}
	}
	if to, _ := take(t, text, "RT0001", settings()); to.Location != s.Location || to.Contact != s.Contact {
		t.Errorf("%q, %q", to.Location, to.Contact)
	}
}

// TestNamesOverSNMP: whatever SNMP may write into a name another card takes from the
// export (RFC 2579 DisplayString is NVT ASCII with its control characters).
func TestNamesOverSNMP(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from, ascii := settings(), rapid.StringOfN(rapid.RuneFrom(nil, &unicode.RangeTable{R16: []unicode.Range16{{Lo: 0, Hi: 127, Stride: 1}}}), 0, 63, -1)
		for _, at := range []*string{&from.Location, &from.Contact, &from.Attached} {
			for *at = ascii.Draw(t, "name"); snap.DisplayString(*at, 63) != ""; {
				*at = strings.ReplaceAll(*at, "\r", "\r\n")[:min(63, len(*at))]
				*at = strings.TrimRight(*at, "\r")
			}
		}
		f, err := Read("f.toml", []byte(Export("RT0001", from)))
		if err != nil {
			t.Fatal(err)
		}
		to := settings()
		edits, _, err := f.Edits(to, "RT0002")
		if err == nil {
			err = Apply(edits, to)
		}
		if err == nil {
			err = setting.Check(settings(), to)
		}
		if err != nil || to.Location != from.Location || to.Contact != from.Contact || to.Attached != from.Attached {
			t.Fatalf("%v: %q, %q, %q became %q, %q, %q", err, from.Location, from.Contact, from.Attached, to.Location, to.Contact, to.Attached)
		}
	})
}

func TestExportHoldsNoSecretAndNoIdentity(t *testing.T) {
	text := Export("RT0001", settings())
	for _, secret := range []string{"look-word", "touch-word"} {
		if strings.Contains(text, secret) {
			t.Errorf("%q shows in\n%s", secret, text)
		}
	}
	for _, line := range []string{"serial_number = \"RT0001\"\n", "[identity]\nname = \"ups-a\"\n", `location = "row \"7\""`, `read-community = "(kept)"`} {
		if !strings.Contains(text, line) {
			t.Errorf("%q is not in\n%s", line, text)
		}
	}
}

// TestBackAndForth: a card takes its own export back, over whatever it has, save
// for secrets, which stay as they are.
func TestBackAndForth(t *testing.T) {
	text := Export("RT0001", settings())
	other := settings()
	other.Name, other.Location, other.Mode, other.Gateway, other.ReadCommunity = "x", "", snap.AddressDHCP, netip.Addr{}, snap.NewSecret("other")
	got, left := take(t, text, "RT0001", other)
	want := settings()
	want.ReadCommunity = snap.NewSecret("other")
	if !got.Same(want) || len(left) != 0 {
		t.Errorf("%+v, %q", got, left)
	}
	got, left = take(t, text, "RT0002", other)
	want.Name, want.UPSName = "x", other.UPSName
	if !got.Same(want) || len(left) != 3 {
		t.Errorf("a clone has %+v, left %q", got, left)
	}
}

// TestAnySettingsComeBack, whatever the menu has set.
func TestAnySettingsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := settings()
		for _, r := range setting.All() {
			values := []string{"", "a", `"\`, "#'[]=", strings.Repeat("x", 63), "none", "yes", "no", "dhcp", "fixed", "198.51.100.7/28", "198.51.100.1", "30"}
			ref, _ := setting.Find(s, r.Path)
			ref.Set(s, rapid.SampledFrom(values).Draw(t, r.Path)) // what it does not take it leaves
		}
		from := settings()
		for _, r := range setting.All() { // which no export has
			if ref, _ := setting.Find(s, r.Path); r.Secret {
				ref.Set(from, ref.Get(s))
			}
		}
		f, err := Read("f.toml", []byte(Export("A", s)))
		if err != nil {
			t.Fatal(err)
		}
		edits, _, err := f.Edits(from, "A")
		if err != nil {
			t.Fatal(err)
		}
		if Apply(edits, from); !from.Same(s) {
			t.Fatalf("%+v became %+v", s, from)
		}
	})
}

// TestOff: a secret that is not set is no secret.
func TestOff(t *testing.T) {
	s := settings()
	s.WriteCommunity = snap.Secret{}
	got, _ := take(t, Export("A", s), "A", settings())
	if !got.WriteCommunity.Empty() || got.ReadCommunity.Reveal() != "look-word" {
		t.Errorf("%+v", got)
	}
}

func TestWhatIsWrong(t *testing.T) {
	for text, want := range map[string]string{
		"":                         "f.toml:1:1: the text is empty: expected what export has written",
		"# nothing\n":              "f.toml:1:1: the text is empty",
		"a = ":                     "f.toml:1:4: not TOML",
		"[reach]\nmode = \"x\"\n":  `f.toml:2:1: reach.mode: "x": expected one of dhcp, fixed`,
		"[reach]\n gatway = \"\"":  "f.toml:2:2: there is no setting \"reach.gatway\": did you mean reach.gateway?",
		"format = 2":               "f.toml:1:1: the text has format 2; this card reads format 1",
		"[[reach]]\nmode = \"\"":   "f.toml:1:3: [[...]] has no place here",
		"reach.mode = [1]":         "f.toml:1:1: reach.mode is no single value",
		"reach.mode = 2026-01-01":  "f.toml:1:1: reach.mode is no single value",
		"a = 1\na = 2":             "f.toml:2:1: not TOML",
		"[identity]\nname = \"ä\"": "f.toml:2:1: identity.name: plain characters only",
		"# ä\n\"ä\" = \"\"":        "f.toml:2:1: there is no setting",
		"[access]\nread-community = \"" + strings.Repeat("secret", 9) + "\"": "f.toml:2:1: access.read-community: expected 1 to 32 plain characters, or nothing",
		strings.Repeat("#", MaxSize+1):                                       "f.toml:1:1: the text has",
		strings.Repeat("a.b.c = 1\n", 10_000):                                "f.toml:5001:1: more than 5000 keys",
	} {
		f, err := Read("f.toml", []byte(text))
		if err == nil {
			_, _, err = f.Edits(settings(), "A")
		}
		var p *Problem
		if !errors.As(err, &p) || !strings.HasPrefix(err.Error(), want) || strings.ContainsAny(err.Error(), "\n") || strings.Contains(err.Error(), "secretsecret") {
			t.Errorf("%.40q: %v, want %s", text, err, want)
		}
	}
}

// TestPlainValues: numbers and switches need no quotation marks.
func TestPlainValues(t *testing.T) {
	f, err := Read("f", []byte("a = true\nb = false\nc = 12\nd = 0.5\n"))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, v := range f.values {
		got = append(got, v.text)
	}
	if diff := cmp.Diff([]string{"yes", "no", "12", "0.5"}, got); diff != "" {
		t.Error(diff)
	}
}

// FuzzRead: any text is a problem in one line, or edits that can be made.
func FuzzRead(f *testing.F) {
	f.Add(Export("A", settings()))
	f.Add("[reach]\nmode = \"fixed\"\n[alerts.mail.desk]\naddress='a'")
	f.Add("a.\"b\".c = {d = 1}\n")
	f.Fuzz(func(t *testing.T, text string) {
		file, err := Read("f", []byte(text))
		if err == nil {
			var edits []Edit
			s := settings()
			if edits, _, err = file.Edits(s, "A"); err == nil {
				if err := Apply(edits, s.Clone()); err != nil {
					t.Fatal(err)
				}
			}
		}
		var p *Problem
		if err != nil && (!errors.As(err, &p) || strings.Contains(err.Error(), "\n")) {
			t.Fatalf("%q", err)
		}
	})
}
