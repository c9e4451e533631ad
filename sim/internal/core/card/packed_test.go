package card

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// withUser are settings with a user of SNMPv3 whose phrases are so.
func withUser(t *testing.T, auth, phrase string) *snap.Settings {
	t.Helper()
	s := config(nil).Settings.Clone()
	if at, err := setting.Apply(s, []setting.Value{
		{Path: "access.snmp-user.desk.auth-password", Text: phrase}, {Path: "access.snmp-user.desk.auth", Text: auth},
		{Path: "access.snmp-user.desk.priv-password", Text: phrase + " of privacy"},
	}); err != nil {
		t.Fatal(at, err)
	}
	return s
}

func repacked(t *testing.T, text []byte) *snap.Settings {
	t.Helper()
	s := new(snap.Settings)
	if err := unpack(text, &s); err != nil {
		t.Fatal(err)
	}
	return s
}

// TestPhrasesBecomeKeys: what is packed has the keys of RFC 3414 section A.3.1 and A.3.2
// and no phrase, whoever packs it how often.
func TestPhrasesBecomeKeys(t *testing.T) {
	for auth, want := range map[string]string{
		"md5": "9faf3283884e92834ebc9847d8edd963", "sha-1": "9fb5cc0381497b3793528939ff788d5d79145211",
	} {
		text := packSettings(withUser(t, auth, "maplesyrup"))
		for range 2 {
			if strings.Contains(string(text), "maplesyrup") || strings.Contains(string(text), encodedOf("maplesyrup")) {
				t.Errorf("the phrase stands in %s", text)
			}
			s := repacked(t, text)
			u := s.Manager().Users[0]
			if got := fmt.Sprintf("%x", u.AuthPassword.Key()); got != want || u.AuthFor != u.Auth || u.PrivFor != u.Auth || !u.Usable() || len(u.PrivPassword.Key()) == 0 {
				t.Errorf("%s: %s, %+v", auth, got, u)
			}
			text = packSettings(s)
		}
		if k := Modern(&snap.Memory{Sections: map[string]json.RawMessage{"settings": text}}); k != nil {
			t.Error("what is of today is brought into another form")
		}
	}
}

func encodedOf(text string) string {
	return strings.TrimRight(strings.Trim(string(encode([]byte(text))), `"`), "=")
}

// TestEarlierForm: phrases that an earlier version has kept become keys.
func TestEarlierForm(t *testing.T) {
	const earlier = `{"settings":{"Mode":"dhcp","Managers":{"V3":true,"Users":[{"Name":"desk","Auth":1,"AuthPassword":"(secret)","Priv":2,"PrivPassword":"(secret)"},{"Name":"none","AuthPassword":"(secret)"}]}},
		"secrets":{"access.read-community":"look","access.snmp-user.desk.auth-password":"maplesyrup","access.snmp-user.desk.priv-password":"","access.snmp-user.none.auth-password":"a left phrase"}}`
	k := Modern(&snap.Memory{Sections: map[string]json.RawMessage{"settings": json.RawMessage(earlier)}})
	if k == nil {
		t.Fatal("it stays as it is")
	}
	text := k.Sections["settings"]
	if strings.Contains(string(text), "maplesyrup") || strings.Contains(string(text), "a left phrase") {
		t.Errorf("%s", text)
	}
	s := repacked(t, text)
	u, none := s.Manager().Users[0], s.Manager().Users[1]
	if fmt.Sprintf("%x", u.AuthPassword.Key()) != "9faf3283884e92834ebc9847d8edd963" || !u.PrivPassword.Empty() || !none.AuthPassword.Empty() || s.ReadCommunity.Reveal() != "look" {
		t.Errorf("%+v, %+v", u, none)
	}
}

// TestKeysThatNobodyMakes: a file that was tampered with is refused.
func TestKeysThatNobodyMakes(t *testing.T) {
	whole := string(packSettings(withUser(t, "md5", "maplesyrup")))
	key := string(encode(snap.Master(snap.AuthMD5, "maplesyrup")))
	for name, text := range map[string]string{
		"too short":             strings.ReplaceAll(whole, key, `"AAAA"`),
		"of nothing":            strings.ReplaceAll(whole, key, `""`),
		"another protocol":      strings.ReplaceAll(whole, `"AuthFor":1`, `"AuthFor":4`),
		"no protocol":           strings.ReplaceAll(whole, `"AuthFor":1`, `"AuthFor":0`),
		"a protocol of no card": strings.ReplaceAll(whole, `"AuthFor":1`, `"AuthFor":200`),
		"a key for a community": strings.ReplaceAll(whole, "access.snmp-user.desk.auth-password", "access.read-community"),
		"nobody's key":          strings.ReplaceAll(whole, "access.snmp-user.desk.auth-password", "access.snmp-user.else.auth-password"),
	} {
		s := new(snap.Settings)
		if err := unpack([]byte(text), &s); text == whole || err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
