package scenario

import (
	"fmt"
	"net/netip"
	"reflect"
	"strings"
	"time"

	"ridethrough/sim/internal/core/vtime"
)

// wants is what a key's value must be, for messages and for the reference.
func wants(f field) string {
	t := f.typ
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch t {
	case reflect.TypeFor[vtime.Tick]():
		return durationWanted(f)
	case reflect.TypeFor[string]():
		return textWanted(f)
	case reflect.TypeFor[float64]():
		return fmt.Sprintf("a number from %s to %s", f.tag.Get("min"), f.tag.Get("max"))
	case reflect.TypeFor[int64]():
		return wholeWanted(f)
	case reflect.TypeFor[bool]():
		return "true or false"
	case reflect.TypeFor[time.Time]():
		return "a date and time with offset, such as 2026-03-02T07:55:00+01:00"
	case reflect.TypeFor[condition]():
		return `a condition in quotes, such as "ups.on_battery"`
	case reflect.TypeFor[netip.Addr]():
		return `an address, such as "192.0.2.1"`
	case reflect.TypeFor[netip.Prefix]():
		return `an address with the length of its mask, such as "192.0.2.10/24"`
	case reflect.TypeFor[netip.AddrPort]():
		return `an address and port, such as "198.51.100.20:162"`
	case reflect.TypeFor[freeForm]():
		return `a table of paths in quotes, such as { "policy.confirm" = 3 }`
	case reflect.TypeFor[varyForm]():
		return "a table of keys with their distributions"
	}
	return tableWanted(f, t)
}

func durationWanted(f field) string {
	example := "90s"
	if span(f.tag.Get("max")) < 90*time.Second {
		example = "20ms"
	}
	text := fmt.Sprintf("a duration from %s to %s, such as %q", limitText(f.tag.Get("min")), limitText(f.tag.Get("max")), example)
	if word := f.tag.Get("word"); word != "" {
		text += fmt.Sprintf(", or %q", word)
	}
	return text
}

// limitText prints a limit; 8760h reads better as a year.
func limitText(limit string) string {
	if limit == "8760h" {
		return "a year"
	}
	return limit
}

func wholeWanted(f field) string {
	if upper := f.tag.Get("max"); upper != "" {
		return fmt.Sprintf("a whole number from %s to %s", f.tag.Get("min"), upper)
	}
	return "a whole number from " + f.tag.Get("min")
}

func textWanted(f field) string {
	if one := f.tag.Get("one"); one != "" {
		return oneOf(strings.Split(one, "|"))
	}
	kind := "text"
	if f.tag.Get("ascii") != "" {
		kind = "plain ASCII text"
	}
	if least := f.tag.Get("min"); least != "" {
		return fmt.Sprintf("%s of %s to %d characters", kind, least, textMax(f))
	}
	return fmt.Sprintf("%s of at most %d characters", kind, textMax(f))
}

// joined is a, b, c.
func joined(names []string) string { return strings.Join(names, ", ") }

// oneOf is `"a", "b" or "c"`.
func oneOf(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = fmt.Sprintf("%q", w)
	}
	if len(quoted) == 1 {
		return quoted[0]
	}
	last := len(quoted) - 1
	return strings.Join(quoted[:last], ", ") + " or " + quoted[last]
}

func tableWanted(f field, t reflect.Type) string {
	switch {
	case t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.String:
		return "a list of texts"
	case t.Kind() == reflect.Slice:
		return fmt.Sprintf("tables, each under [[%s]]", f.key)
	case f.tag.Get("bare") != "":
		return oneOf(strings.Split(f.tag.Get("bare"), "|")) + ", or a table such as { sag_pct = 70, lasts = \"300ms\" }"
	default:
		return "a table"
	}
}
