package image

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/quirk"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Bounds of a release.
const (
	maxVersion  = 31
	maxModel    = 63
	maxNote     = 200
	maxSettings = 64
	maxBoot     = vtime.Hour
)

// Check says what is wrong with r, in one line.
func Check(r *snap.Release) error {
	switch {
	case !printable(r.Version, 1, maxVersion):
		return fmt.Errorf("the version %q: expected 1 to %d printable characters of ASCII", short(r.Version), maxVersion)
	case !printable(r.Model, 1, maxModel):
		return fmt.Errorf("the model %q: expected 1 to %d printable characters of ASCII", short(r.Model), maxModel)
	case !printable(r.Note, 0, maxNote):
		return fmt.Errorf("the note: expected at most %d printable characters of ASCII", maxNote)
	case !printable(r.After, 0, maxVersion):
		return fmt.Errorf("the version %q that it goes on: expected at most %d printable characters of ASCII", short(r.After), maxVersion)
	case r.Resets != "" && r.Resets != "settings" && r.Resets != "accounts":
		return fmt.Errorf("resets is %q: expected settings, accounts or nothing", short(r.Resets))
	case r.BootMs < 0 || r.BootMs > int64(maxBoot):
		return fmt.Errorf("boot_ms is %d: expected 0 to %d", r.BootMs, int64(maxBoot))
	case len(r.Settings) > maxSettings:
		return fmt.Errorf("it changes %d settings, at most %d", len(r.Settings), maxSettings)
	}
	if err := checkQuirks(r.Quirks); err != nil {
		return err
	}
	return checkSettings(r.Settings)
}

func printable(s string, least, most int) bool {
	return len(s) >= least && len(s) <= most && !strings.ContainsFunc(s, func(c rune) bool { return c < ' ' || c > '~' })
}

func short(s string) string {
	if len(s) > 40 {
		return s[:40] + "..."
	}
	return s
}

func checkQuirks(list []snap.ReleaseQuirk) error {
	seen := map[string]bool{}
	for _, q := range list {
		if seen[q.Name] {
			return fmt.Errorf("it names the quirk %q twice", short(q.Name))
		}
		seen[q.Name] = true
		if err := quirk.Check(q.Quirk(), q.Off); err != nil {
			return fmt.Errorf("quirk %q: %w", short(q.Name), err)
		}
	}
	return nil
}

// checkSettings refuses secrets: an image is no place for them. It may empty one.
// Whether a value fits, only the card can tell.
func checkSettings(list []snap.ReleaseSetting) error {
	var none snap.Settings
	for _, s := range list {
		if len(s.Value) > 255 {
			return fmt.Errorf("setting %s: a value of %d characters, at most 255", short(s.Path), len(s.Value))
		}
		ref, err := setting.Find(&none, s.Path)
		if err != nil {
			return fmt.Errorf("setting %s: %w; entries of lists cannot be changed", short(s.Path), err)
		}
		if ref.Secret && s.Value != "" {
			return fmt.Errorf("setting %s is a secret: an image can only empty it", s.Path)
		}
	}
	return nil
}
