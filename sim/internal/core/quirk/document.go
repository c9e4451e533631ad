package quirk

import (
	_ "embed"
	"fmt"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

//go:embed quirks.md
var prose string

// Document is docs/quirks.md: the prose of quirks.md with the catalogue in it.
func Document() string {
	return strings.ReplaceAll(prose, "{{quirks}}\n", tables())
}

func tables() string {
	var out strings.Builder
	last := Family("")
	for i := range catalogue {
		e := &catalogue[i]
		if e.Family != last {
			if last != "" {
				out.WriteString("\n")
			}
			last = e.Family
			fmt.Fprintf(&out, "### Of %s\n\n| quirk | what the card does | settings | what a correct client does | after |\n| --- | --- | --- | --- | --- |\n", e.Family)
		}
		fmt.Fprintf(&out, "| `%v` | %s%s | %s | %s | %s |\n", e.Kind, e.Does, e.seen(), e.settings(), e.Client, e.Source)
	}
	return out.String()
}

// seen says whether the quirk shows without any socket.
func (e *Entry) seen() string {
	if e.ShowsUnit {
		return " The modelled policy sees it."
	}
	return ""
}

// settings is what can be chosen, with the defaults.
func (e *Entry) settings() string {
	var list []string
	if e.Objects != NoObjects {
		list = append(list, "`objects`: "+e.objectsText())
	}
	if e.Alarms {
		list = append(list, "`alarms`: must be given")
	}
	for _, n := range []struct {
		key   string
		limit Range
	}{{"count", e.Count}, {"value", e.Value}, {"percent", e.Percent}} {
		if n.limit != (Range{}) {
			list = append(list, fmt.Sprintf("`%s`: %s, from %s to %s", n.key, plain(n.limit.Default), plain(n.limit.Min), plain(n.limit.Max)))
		}
	}
	for _, d := range []struct {
		key   string
		limit Span
	}{{"delay", e.Delay}, {"lasts", e.Lasts}} {
		if d.limit != (Span{}) {
			list = append(list, fmt.Sprintf("`%s`: %v, from %v to %v", d.key, d.limit.Default.Duration(), d.limit.Min.Duration(), d.limit.Max.Duration()))
		}
	}
	if len(list) == 0 {
		return "none"
	}
	return strings.Join(list, "; ")
}

func (e *Entry) objectsText() string {
	which := map[Objects]string{AnyObjects: "any", Numbers: "numbers that are no codes", Codes: "enumerations"}[e.Objects]
	switch n := len(e.DefaultObjects); n {
	case 0:
		return which + ", must be given"
	case len(snap.Objects()):
		return which + ", all by default"
	default:
		return which + ", by default " + strings.Join(e.DefaultObjects, ", ")
	}
}

func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
