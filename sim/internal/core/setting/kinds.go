package setting

import (
	"fmt"
	"math"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// A kind makes a setting from a path, its words and the place that holds it. The
// place is found anew for every use: settings are copied.

// text is a text of up to limit plain characters.
func text(path, label, help string, limit int, at func(*snap.Settings, int) *string) *Setting {
	return &Setting{
		Path: path, Label: label, Help: help, Text: true,
		Takes: fmt.Sprintf("up to %d plain characters", limit),
		get:   func(s *snap.Settings, i int) string { return *at(s, i) },
		set: func(s *snap.Settings, i int, v string) error {
			if why := Plain(v, limit); why != "" {
				return fmt.Errorf("%s", why)
			}
			*at(s, i) = v
			return nil
		},
	}
}

// names is a text that SNMP writes too, as a DisplayString: an import takes whatever an
// export says of it. What a person types is plain all the same.
func names(path, label, help string, limit int, at func(*snap.Settings, int) *string) *Setting {
	x := text(path, label, help, limit, at)
	x.typed = func(v string) string { return Plain(v, limit) }
	x.set = func(s *snap.Settings, i int, v string) error {
		if why := snap.DisplayString(v, limit); why != "" {
			return fmt.Errorf("%s", why)
		}
		*at(s, i) = v
		return nil
	}
	return x
}

// Plain says why v is no text of at most limit plain (printable ASCII)
// characters, "" if it is one.
func Plain(v string, limit int) string {
	if len(v) > limit {
		return fmt.Sprintf("%d characters are too many: at most %d", len(v), limit)
	}
	for _, r := range v {
		if r < ' ' || r > '~' {
			return "plain characters only: letters, digits, space and signs without accents"
		}
	}
	return ""
}

// secret is a text that is never shown. least is the fewest characters of one
// that is set.
func secret(path, label, help string, least, limit int, at func(*snap.Settings, int) *snap.Secret) *Setting {
	takes := fmt.Sprintf("%d to %d plain characters, or nothing", least, limit)
	return &Setting{
		Path: path, Label: label, Help: help, Takes: takes, Secret: true, Text: true,
		get: func(s *snap.Settings, i int) string { return at(s, i).Reveal() },
		set: func(s *snap.Settings, i int, v string) error {
			if Plain(v, limit) != "" || v != "" && len(v) < least {
				return fmt.Errorf("expected %s", takes) // what was typed is not repeated
			}
			if *at(s, i) = (snap.Secret{}); v != "" {
				*at(s, i) = snap.NewSecret(v)
			}
			return nil
		},
		hide: func(s *snap.Settings, i int, name func(string) string) {
			if !at(s, i).Empty() {
				*at(s, i) = snap.StandIn(name(at(s, i).Reveal()))
			}
		},
	}
}

// choice is one of some words.
func choice[T ~string](path, label, help string, words []T, at func(*snap.Settings, int) *T) *Setting {
	var plain []string
	for _, w := range words {
		plain = append(plain, string(w))
	}
	return &Setting{
		Path: path, Label: label, Help: help, Words: plain, Takes: "one of " + strings.Join(plain, ", "),
		get: func(s *snap.Settings, i int) string { return string(*at(s, i)) },
		set: func(s *snap.Settings, i int, v string) error {
			word := strings.ToLower(v)
			if !slices.Contains(plain, word) {
				return fmt.Errorf("%q: expected one of %s", v, strings.Join(plain, ", "))
			}
			*at(s, i) = T(word)
			return nil
		},
	}
}

// yesNo is a switch.
func yesNo(path, label, help string, at func(*snap.Settings, int) *bool) *Setting {
	return &Setting{
		Path: path, Label: label, Help: help, Words: []string{"yes", "no"}, Takes: "yes or no",
		get: func(s *snap.Settings, i int) string {
			if *at(s, i) {
				return "yes"
			}
			return "no"
		},
		set: func(s *snap.Settings, i int, v string) error {
			switch strings.ToLower(v) {
			case "yes", "y", "on", "true":
				*at(s, i) = true
			case "no", "n", "off", "false":
				*at(s, i) = false
			default:
				return fmt.Errorf("%q: expected yes or no", v)
			}
			return nil
		},
	}
}

// whole is a whole number from least to most, in a unit that may be empty.
func whole[T ~int | ~int32 | ~uint16 | ~uint32 | ~uint8](path, label, help, unit string, least, most T, at func(*snap.Settings, int) *T) *Setting {
	takes := strings.TrimSpace(fmt.Sprintf("a whole number from %d to %d %s", least, most, unit))
	return &Setting{
		Path: path, Label: label, Help: help, Takes: takes,
		get: func(s *snap.Settings, i int) string { return strings.TrimSpace(fmt.Sprintf("%d %s", *at(s, i), unit)) },
		set: func(s *snap.Settings, i int, v string) error {
			n, err := strconv.ParseInt(strings.TrimSpace(strings.TrimSuffix(v, unit)), 10, 64)
			if err != nil || n < int64(least) || n > int64(most) {
				return fmt.Errorf("%q: expected %s", v, takes)
			}
			*at(s, i) = T(n)
			return nil
		},
	}
}

// decimal is a number from least to most with up to one decimal, in a unit. Where
// none is true an infinite value means that it is not used.
func decimal(path, label, help, unit string, least, most float64, none bool, at func(*snap.Settings, int) *float64) *Setting {
	takes := fmt.Sprintf("a number from %g to %g %s", least, most, unit)
	if none {
		takes += ", or none"
	}
	return &Setting{
		Path: path, Label: label, Help: help, Takes: takes,
		get: func(s *snap.Settings, i int) string {
			if math.IsInf(*at(s, i), 0) {
				return "none"
			}
			return strings.TrimSpace(strconv.FormatFloat(*at(s, i), 'f', -1, 64) + " " + unit)
		},
		set: func(s *snap.Settings, i int, v string) error {
			if none && strings.ToLower(v) == "none" {
				*at(s, i) = math.Inf(1)
				return nil
			}
			n, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(v, unit)), 64)
			if err != nil || !(n >= least && n <= most) {
				return fmt.Errorf("%q: expected %s", v, takes)
			}
			*at(s, i) = math.Round(n*10) / 10
			return nil
		},
	}
}

// span is a time from least to most in whole seconds, as 90s, 5m or 1h30m.
func span(path, label, help string, least, most vtime.Tick, at func(*snap.Settings, int) *vtime.Tick) *Setting {
	return timed(time.Second, "90s, 5m or 1h30m", path, label, help, least, most, -1, at)
}

// spanMS is a span that may be shorter than a second.
func spanMS(path, label, help string, least, most vtime.Tick, at func(*snap.Settings, int) *vtime.Tick) *Setting {
	return timed(time.Millisecond, "500ms or 2s", path, label, help, least, most, -1, at)
}

// moment is a time from least to most in whole milliseconds. The word none stands
// for the value none, unless that is negative: then there is no such word.
func moment(path, label, help string, least, most, none vtime.Tick, at func(*snap.Settings, int) *vtime.Tick) *Setting {
	return timed(time.Millisecond, "90s, 5m or 1h30m", path, label, help, least, most, none, at)
}

// timed is a time in whole units, written such as that; none is as in [moment].
func timed(unit time.Duration, such, path, label, help string, least, most, none vtime.Tick, at func(*snap.Settings, int) *vtime.Tick) *Setting {
	takes := fmt.Sprintf("a time from %s to %s such as %s", short(least), short(most), such)
	if none >= 0 {
		takes += ", or none"
	}
	return &Setting{
		Path: path, Label: label, Help: help, Takes: takes,
		get: func(s *snap.Settings, i int) string {
			if none >= 0 && *at(s, i) == none {
				return "none"
			}
			return short(*at(s, i))
		},
		set: func(s *snap.Settings, i int, v string) error {
			if none >= 0 && strings.ToLower(v) == "none" {
				*at(s, i) = none
				return nil
			}
			d, err := time.ParseDuration(v)
			if err != nil || d%unit != 0 || d < least.Duration() || d > most.Duration() {
				return fmt.Errorf("%q: expected %s", v, takes)
			}
			*at(s, i) = vtime.FromDuration(d)
			return nil
		},
	}
}

// short is t as ParseDuration reads it, without what is zero at its end.
func short(t vtime.Tick) string {
	text := t.Duration().String()
	if strings.HasSuffix(text, "m0s") {
		text = strings.TrimSuffix(text, "0s")
	}
	if strings.HasSuffix(text, "h0m") {
		text = strings.TrimSuffix(text, "0m")
	}
	return text
}

// address is one IP address, or none if that is allowed.
func address(path, label, help string, none bool, parse func(string) (netip.Addr, error), at func(*snap.Settings, int) *netip.Addr) *Setting {
	takes := "an address such as 192.0.2.1"
	if none {
		takes += ", or none"
	}
	return &Setting{
		Path: path, Label: label, Help: help, Takes: takes,
		get: func(s *snap.Settings, i int) string { return OrNone(*at(s, i)) },
		set: func(s *snap.Settings, i int, v string) error {
			if none && (v == "" || v == "-" || strings.ToLower(v) == "none") {
				*at(s, i) = netip.Addr{}
				return nil
			}
			addr, err := parse(v)
			if err == nil {
				*at(s, i) = addr
			}
			return err
		},
	}
}

// OrNone is v as text, or "none" while it is not valid.
func OrNone(v interface {
	IsValid() bool
	String() string
}) string {
	if !v.IsValid() {
		return "none"
	}
	return v.String()
}

// list is a list of entries of which name finds the name. Entries finds the list
// in settings that may be shared where they are only read. Each entry begins as
// fresh. The paths of the columns are their last parts.
func list[E any](path, label, help string, most int, entries func(*snap.Settings) *[]E, name func(*E) *string, fresh func() E, columns ...*Setting) *List {
	return &List{
		Path: path, Label: label, Help: help, Max: most, Columns: columns,
		names: func(s *snap.Settings) []string {
			var names []string
			for i := range *entries(s) {
				names = append(names, *name(&(*entries(s))[i]))
			}
			return names
		},
		add: func(s *snap.Settings, as string) error {
			e := fresh()
			*name(&e) = as
			*entries(s) = append(*entries(s), e)
			return nil
		},
		remove: func(s *snap.Settings, i int) { *entries(s) = slices.Delete(*entries(s), i, i+1) },
		copy:   func(dst, src *snap.Settings) { *entries(dst) = slices.Clone(*entries(src)) },
	}
}
