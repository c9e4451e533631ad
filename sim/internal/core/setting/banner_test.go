package setting

import (
	"strings"
	"testing"
)

// TestBannerIsPlain: what could speak to the terminal of whoever signs in is refused
// and not repeated, and so is what fills a screen.
func TestBannerIsPlain(t *testing.T) {
	for _, x := range []struct{ name, text string }{
		{"an escape sequence", "Keep out\x1b[2J\x1b]0;root\a"},
		{"a bell", "Keep out\a"},
		{"a line end", "Keep out\r\nroot@host:~# "},
		{"a backspace", "Keep out\b\b\bin"},
		{"a control of 8 bits", "Keep out\u009b2J"},
		{"text that turns round", "Keep \u202etuo"},
		{"no UTF-8", "Keep out\xff"},
		{"too long", strings.Repeat("x", maxBanner+1)},
	} {
		s := sample()
		ref, err := Find(s, "access.banner")
		if err != nil {
			t.Fatal(err)
		}
		err = ref.Set(s, x.text)
		if err == nil || s.SignIn.Banner != "" || strings.ContainsFunc(err.Error(), func(r rune) bool { return r < ' ' || r > '~' }) {
			t.Errorf("%s: %v, %q", x.name, err, s.SignIn.Banner)
		}
	}
}

// TestBannerLines: | parts lines, an empty one among them.
func TestBannerLines(t *testing.T) {
	s := sample()
	ref, _ := Find(s, "access.banner")
	for text, want := range map[string]string{
		"":                             "",
		"Keep out":                     "Keep out\n",
		"One site | | Keep out":        "One site\n\nKeep out\n",
		strings.Repeat("x", maxBanner): strings.Repeat("x", maxBanner) + "\n",
	} {
		if err := ref.Set(s, text); err != nil || s.SignInRules().Notice() != want {
			t.Errorf("%q: %v, %q", text, err, s.SignInRules().Notice())
		}
	}
}
