package menu

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// cautions are what has to be said before the changes to m are saved, a line each.
func cautions(v View, list []setting.Change, m *snap.Settings) string {
	text := ""
	for _, caution := range setting.Cautions(list) {
		text += "CAUTION: " + caution + "\n"
	}
	return text + shutOut(v, list, m)
}

const allowPath = "access.allow"

// shutOut says that m would shut out whoever saves it, "" if it would not: the access
// list is in force at once.
func shutOut(v View, list []setting.Change, m *snap.Settings) string {
	touched := func(c setting.Change) bool { return strings.HasPrefix(c.Path, allowPath+".") }
	if !v.From.IsValid() || m.Allows("ssh", v.From) || !slices.ContainsFunc(list, touched) {
		return ""
	}
	return fmt.Sprintf("CAUTION: %s: you will be shut out, and this session ends: your own address %s is in no network of it for ssh. The serial line stays open.\n", allowPath, v.From)
}

// savedText says that settings were saved, and what has to follow. entries are the paths
// of what [setting.Notes] knows among them.
func savedText(v View, entries []string) string {
	text := "Saved.\n"
	if setting.Waits(&v.Dev.Card.Settings, &v.Dev.Card.Saved) {
		text = "Saved. Not all of it is in force yet: the rest waits for a restart of the card.\n"
	}
	known := func(user string) bool { return v.Dev.Card.Account(user) != nil }
	for _, note := range setting.Notes(&v.Dev.Card.Saved, entries, known) {
		text += "Note: " + note + "\n"
	}
	return text
}
